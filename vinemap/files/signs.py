"""Columns by which a table is known."""

from __future__ import annotations

SIGNS = (
    ("stops", {"date", "examined", "infected"}),
    ("weather", {"time", "temp_c"}),
    ("passes", {"date", "block", "kind", "face"}),
    ("sprays", {"start", "block", "materials"}),
    ("rods", {"block", "date", "insertions"}),
    ("vines", {"block", "row", "vine", "status"}),
    ("truth", {"block", "row", "vine", "incidence_1"}),
)
