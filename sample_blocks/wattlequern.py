"""Wattlequern: an invented estate of two small blocks in the southern hemisphere."""

from __future__ import annotations

import datetime as dt

from layout import BlockPlan
from plans import EstatePlan, PassPlan, SprayPlan
from weather import Climate

DAY = dt.date
HOUR = dt.datetime

BLOCKS = (
    BlockPlan(
        "Quern Flat",
        ((22, 18, -2), (84, 12, 0), (92, 50, -2), (28, 58, 0)),
        98.0,
        3.0,
        2.2,
        (("Syrah", 1.0),),
        vigour=0.6,
        luck=0.62,
        foci=2,
        inoculum=0.012,
    ),
    BlockPlan(
        "Ember Rise",
        ((30, 84, 0), (76, 72, -2), (90, 104, 0), (38, 112, 2)),
        165.0,
        2.6,
        1.7,
        (("Riesling", 1.0),),
        vigour=0.45,
        luck=0.5,
        foci=2,
        inoculum=0.01,
    ),
)

WATTLEQUERN = EstatePlan(
    "Wattlequern",
    "wattlequern",
    2025,
    "EPSG:32755",
    (350840.0, 5787270.0),
    10,
    BLOCKS,
    (((14, 62), (16, 10), (86, 4)),),
    DAY(2025, 9, 24),
    DAY(2025, 11, 30),
    DAY(2026, 1, 30),
    DAY(2026, 3, 20),
    (),
    Climate(
        DAY(2025, 9, 15),
        DAY(2026, 1, 10),
        22,
        205.0,
        20.0,
        (
            (DAY(2025, 9, 24), 8, -4.0),
            (DAY(2025, 10, 14), 6, -5.0),
            (DAY(2025, 11, 8), 6, -6.0),
            (DAY(2025, 12, 6), 3, 10.0),
            (DAY(2025, 12, 10), 5, -6.0),
            (DAY(2025, 12, 27), 8, 10.0),
        ),
        (
            (HOUR(2025, 9, 22, 14), 8, 11.2),
            (HOUR(2025, 10, 9, 2), 10, 16.4),
            (HOUR(2025, 10, 27, 6), 5, 5.6),
            (HOUR(2025, 11, 15, 18), 9, 13.0),
            (HOUR(2025, 12, 10, 15), 3, 7.2),
        ),
        "Shed roof",
    ),
    (
        PassPlan(DAY(2025, 11, 4), "Quern Flat", "", "T", "both", 2, 0.7),
        PassPlan(DAY(2025, 12, 9), "Quern Flat", "1-6", "F", "south", 2, 1.1),
    ),
    (
        SprayPlan(HOUR(2025, 10, 14, 6, 0), ("sulfur",), 4.0, 400.0),
        SprayPlan(HOUR(2025, 11, 6, 6, 0), ("sulfur",), 5.0, 500.0),
        SprayPlan(HOUR(2025, 12, 3, 5, 30), ("penconazole",), 0.06, 600.0),
    ),
    ((DAY(2025, 12, 2), "Odile"), (DAY(2025, 12, 19), "Odile")),
)
