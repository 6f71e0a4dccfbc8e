"""Marlquill: an invented estate of eight blocks on a slope above a creek, in the northern hemisphere."""

from __future__ import annotations

import datetime as dt

from layout import BlockPlan
from plans import EstatePlan, PassPlan, SprayPlan
from weather import Climate

from vinemap.ground.block import FREE

DAY = dt.date
HOUR = dt.datetime

BLOCKS = (
    BlockPlan(
        "Tallow Reach",
        (
            (73, 90, 12),
            (235, 48, 0),
            (427, 42, -9),
            (497, 215, 0),
            (490, 398, 7),
            (350, 444, 0),
            (200, 440, -13),
            (100, 315, 15),
        ),
        5.0,
        3.2,
        2.6,
        (("Cabernet Sauvignon", 1.0),),
        vigour=0.6,
        foci=11,
        inoculum=0.02,
    ),
    BlockPlan(
        "Peña Alta",
        ((680, 372, 0), (759, 352, -5), (830, 401, 4), (827, 465, 0), (752, 500, -4), (688, 445, 0)),
        38.0,
        2.4,
        1.9,
        (
            ("Zinfandel", 0.58),
            ("Petite Sirah", 0.13),
            ("Carignan", 0.12),
            ("Grenache noir", 0.07),
            ("Mourvedre", 0.06),
            ("Muscat blanc", 0.04),
        ),
        vigour=0.4,
        foci=5,
        luck=0.95,
        loss=0.1,
    ),
    BlockPlan(
        "Marlpit Knoll",
        ((512, 430, -3), (614, 418, 0), (634, 467, -5), (603, 508, 3), (525, 513, 0)),
        22.0,
        2.4,
        2.4,
        (("Zinfandel", 1.0),),
        training=FREE,
        vigour=0.35,
        foci=3,
        luck=0.8,
        loss=0.09,
    ),
    BlockPlan(
        "Crookbeam",
        ((207, 469, 11), (332, 477, 0), (396, 451, -3), (422, 514, -13), (220, 548, 0)),
        94.0,
        2.8,
        2.0,
        (("Syrah", 1.0),),
        vigour=0.45,
        curve_m=(291.0, 176.0),
        foci=3,
        inoculum=0.008,
        luck=0.7,
    ),
    BlockPlan(
        "Pumphouse Piece",
        ((523, 313, 0), (656, 303, -3), (666, 376, 0), (594, 399, -4), (519, 396, 0)),
        92.0,
        2.7,
        1.8,
        (("Chardonnay", 1.0),),
        vigour=0.7,
        hole=((584, 344, 0), (587, 358, 0), (604, 356, 0), (601, 341, 0)),
        foci=7,
        inoculum=0.014,
        luck=0.86,
        loss=0.04,
    ),
    BlockPlan(
        "Dogleg",
        ((543, 174, 0), (660, 164, -3), (690, 182, 0), (699, 277, 0), (645, 285, 0), (634, 223, 2), (549, 231, 0)),
        140.0,
        2.5,
        1.8,
        (("Chenin blanc", 1.0),),
        vigour=0.6,
        foci=5,
    ),
    BlockPlan(
        "Wrenfield",
        ((720, 190, 2), (778, 184, 0), (792, 204, -3), (802, 268, 0), (726, 275, 0)),
        5.0,
        2.4,
        1.6,
        (("Grenache noir", 1.0),),
        vigour=0.25,
        foci=1,
        inoculum=0.004,
        luck=0.45,
        loss=0.03,
    ),
    BlockPlan(
        "Sallow Bottom",
        ((486, 55, 0), (552, 41, 8), (613, 47, -4), (632, 98, 0), (569, 121, -3), (512, 113, 0)),
        65.0,
        2.6,
        1.8,
        (("Merlot", 1.0),),
        vigour=0.7,
        foci=4,
        inoculum=0.015,
    ),
)

TREES = (
    ((62, 460), (80, 320), (52, 92), (232, 32), (435, 26), (486, 40), (552, 22), (616, 34), (650, 70)),
    ((512, 404), (594, 408), (668, 388)),
    ((556, 238), (628, 231)),
    ((214, 560), (330, 575), (432, 524)),
    ((840, 398), (837, 468)),
)

CLIMATE = Climate(
    DAY(2026, 3, 15),
    DAY(2026, 9, 5),
    205,
    292.0,
    65.0,
    (
        (DAY(2026, 5, 22), 3, 6.5),
        (DAY(2026, 6, 17), 4, 9.5),
        (DAY(2026, 7, 9), 5, 10.0),
        (DAY(2026, 7, 29), 3, 8.5),
        (DAY(2026, 8, 19), 5, 10.5),
    ),
    (
        (HOUR(2026, 3, 20, 3), 9, 14.0),
        (HOUR(2026, 4, 3, 20), 11, 19.4),
        (HOUR(2026, 4, 12, 5), 5, 4.8),
        (HOUR(2026, 4, 21, 1), 14, 22.6),
        (HOUR(2026, 5, 2, 16), 6, 6.2),
        (HOUR(2026, 5, 11, 2), 8, 9.8),
        (HOUR(2026, 5, 27, 4), 3, 1.6),
        (HOUR(2026, 6, 8, 5), 2, 0.8),
    ),
)

PASSES = (
    PassPlan(DAY(2026, 5, 5), "Pumphouse Piece", "", "T", "both", 6, 0.6),
    PassPlan(DAY(2026, 5, 7), "Sallow Bottom", "", "T", "both", 6, 0.7),
    PassPlan(DAY(2026, 5, 14), "Dogleg", "", "T", "both", 5, 0.7),
    PassPlan(DAY(2026, 5, 18), "Tallow Reach", "8-40", "T", "both", 8, 0.9),
    PassPlan(DAY(2026, 6, 4), "Peña Alta", "", "L", "south-east", 6, 0.8),
    PassPlan(DAY(2026, 6, 8), "Dogleg", "30-54", "L", "north-east", 5, 0.8),
    PassPlan(DAY(2026, 6, 9), "Tallow Reach", "40-56", "F", "east", 8, 1.1),
    PassPlan(DAY(2026, 6, 15), "Pumphouse Piece", "1-12", "D", "both", 6, 1.6),
    PassPlan(DAY(2026, 6, 23), "Sallow Bottom", "13-33", "R", "north-west", 5, 1.0),
    PassPlan(DAY(2026, 6, 29), "Pumphouse Piece", "1-6", "C", "both", 6, 1.2),
    PassPlan(DAY(2026, 7, 1), "Tallow Reach", "88-112", "R", "east", 8, 1.0),
    PassPlan(DAY(2026, 7, 28), "Pumphouse Piece", "29-34", "C", "both", 6, 0.9),
    PassPlan(DAY(2026, 7, 30), "Dogleg", "35-42", "V", "both", 1, 0.5),
)

SPRAYS = (
    SprayPlan(HOUR(2026, 4, 17, 5, 30), ("sulfur",), 5.0, 450.0),
    SprayPlan(HOUR(2026, 5, 1, 5, 30), ("sulfur",), 5.6, 500.0, without=("Wrenfield",)),
    SprayPlan(HOUR(2026, 5, 15, 5, 0), ("tebuconazole",), 0.13, 600.0, without=("Pumphouse Piece", "Sallow Bottom")),
    SprayPlan(HOUR(2026, 5, 30, 5, 0), ("quinoxyfen",), 0.1, 700.0, without=("Pumphouse Piece",)),
    SprayPlan(HOUR(2026, 6, 15, 5, 0), ("metrafenone",), 0.22, 800.0, without=("Wrenfield",)),
    SprayPlan(HOUR(2026, 6, 29, 5, 0), ("sulfur",), 5.6, 800.0, without=("Wrenfield", "Crookbeam")),
    SprayPlan(
        HOUR(2026, 7, 2, 5, 0),
        ("potassium bicarbonate",),
        4.5,
        900.0,
        only=(("Pumphouse Piece", "1-12"), ("Dogleg", "30-54")),
    ),
    SprayPlan(HOUR(2026, 7, 17, 5, 0), ("sulfur",), 4.5, 800.0, without=("Wrenfield", "Crookbeam", "Marlpit Knoll")),
)

MARLQUILL = EstatePlan(
    "Marlquill",
    "marlquill",
    2026,
    "EPSG:32610",
    (525640.0, 4272120.0),
    -8,
    BLOCKS,
    TREES,
    DAY(2026, 4, 1),
    DAY(2026, 5, 28),
    DAY(2026, 7, 31),
    DAY(2026, 9, 12),
    (("Peña Alta", DAY(2026, 6, 1)), ("Crookbeam", DAY(2026, 5, 31))),
    CLIMATE,
    PASSES,
    SPRAYS,
    (
        (DAY(2026, 5, 29), "Inés"),
        (DAY(2026, 6, 12), "Inés"),
        (DAY(2026, 6, 26), "Bram"),
        (DAY(2026, 7, 24), "Inés"),
        (DAY(2026, 9, 4), "Bram"),
    ),
)
