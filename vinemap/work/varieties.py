"""How readily varieties take powdery mildew and Botrytis, how tight their bunches are, and when they bloom and colour.

Ratings run from 1 (low) to 3 (high). Nearly every vinifera variety rates 3 for mildew in the Midwestern extension table;
lower ratings are from memory of trade practice and can be edited. Names are compared without case and accents.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

UNKNOWN_RATING = 3
"""A variety without data is taken as highly susceptible to mildew."""
TIGHT = 7
"""Bunch density (OIV 204: 1 very loose, 9 very dense) from which bunches count as tight."""


@dataclass(frozen=True, slots=True)
class Variety:
    """``mildew`` and ``rot`` (Botrytis): susceptibility 1..3; ``density``: of the bunch, OIV 204 note 1..9, from memory.

    ``bloom_sum``, ``colour_sum``: daily means above 0 degC from 1 March to half bloom and half colour [degC days], None
    where not known; ``is_known`` false for a variety without data.
    """

    mildew: int
    rot: int
    density: int
    bloom_sum: float | None = None
    colour_sum: float | None = None
    is_known: bool = True


UNKNOWN = Variety(UNKNOWN_RATING, 2, 5, is_known=False)

# Mildew and rot: Midwestern extension tables, Panitrur-De la Fuente et al. 2018 (rot of Cabernet, Grenache, Petit Verdot,
# Gewurztraminer, Sauvignon blanc) and Vail et al. 1998 (Chardonnay); else from memory, and of two notes the higher one.
# Sums: Parker et al. 2011 and 2013, from memory, 30 degree days either way.
VARIETIES = {
    "albarino": Variety(3, 2, 7),
    "barbera": Variety(3, 3, 7),
    "blaufrankisch": Variety(3, 1, 5),
    "cabernet franc": Variety(3, 1, 5, 1230, 2692),
    "cabernet sauvignon": Variety(3, 1, 5, 1299, 2689),
    "carignan": Variety(3, 3, 9),
    "chardonnay": Variety(3, 3, 7, 1217, 2547),
    "chasselas": Variety(3, 2, 5, 1274, 2342),
    "chenin blanc": Variety(3, 3, 9, 1263, 2670),
    "cinsaut": Variety(2, 3, 7),
    "durif": Variety(2, 3, 9),
    "gamay": Variety(2, 3, 9, 1226, 2551),
    "gewurztraminer": Variety(3, 3, 7, 1220, 2490),
    "grenache": Variety(2, 1, 7, 1277, 2761),
    "gruner veltliner": Variety(2, 2, 7),
    "malbec": Variety(2, 2, 5),
    "marsanne": Variety(3, 2, 7),
    "merlot": Variety(3, 3, 5, 1269, 2636),
    "mourvedre": Variety(2, 2, 9, 1354, 2800),
    "muller thurgau": Variety(3, 3, 5),
    "muscat blanc": Variety(3, 3, 7),
    "nebbiolo": Variety(3, 2, 7),
    "petit manseng": Variety(2, 1, 3),
    "petit verdot": Variety(2, 1, 5),
    "pinot blanc": Variety(3, 2, 7),
    "pinot gris": Variety(3, 2, 9, 1214, 2501),
    "pinot noir": Variety(3, 3, 8, 1219, 2511),
    "riesling": Variety(3, 3, 7, 1242, 2590),
    "roussanne": Variety(3, 2, 7),
    "sangiovese": Variety(2, 3, 7, 1260, 2700),
    "sauvignon blanc": Variety(3, 3, 8, 1238, 2528),
    "semillon": Variety(2, 3, 7, 1278, 2625),
    "silvaner": Variety(3, 3, 9),
    "syrah": Variety(2, 2, 5, 1277, 2598),
    "tempranillo": Variety(3, 2, 7, 1240, 2620),
    "thompson seedless": Variety(3, 2, 5),
    "touriga nacional": Variety(2, 2, 5),
    "trebbiano": Variety(2, 2, 5, 1376, 2799),
    "viognier": Variety(2, 2, 7),
    "zinfandel": Variety(2, 3, 9),
}

ALIASES = {
    "alvarinho": "albarino",
    "cannonau": "grenache",
    "carignane": "carignan",
    "carinena": "carignan",
    "cinsault": "cinsaut",
    "cot": "malbec",
    "garnacha": "grenache",
    "garnacha tinta": "grenache",
    "grenache noir": "grenache",
    "lemberger": "blaufrankisch",
    "mataro": "mourvedre",
    "monastrell": "mourvedre",
    "moscato bianco": "muscat blanc",
    "petite sirah": "durif",
    "pinot bianco": "pinot blanc",
    "pinot grigio": "pinot gris",
    "primitivo": "zinfandel",
    "shiraz": "syrah",
    "sultana": "thompson seedless",
    "sylvaner": "silvaner",
    "tinta roriz": "tempranillo",
    "trebbiano toscano": "trebbiano",
    "ugni blanc": "trebbiano",
    "weissburgunder": "pinot blanc",
}
"""Other names of the trade for a variety of the table."""

TAKE_BY_RATING = {1: 0.4, 2: 0.75, 3: 1.0}
"""Growth of mildew relative to a highly susceptible variety; stated assumption."""


def plain_name(variety: str) -> str:
    """The name in lower case without accents, for comparing."""
    decomposed = unicodedata.normalize("NFKD", variety)
    return "".join(letter for letter in decomposed if not unicodedata.combining(letter)).casefold().strip()


def variety_named(variety: str) -> Variety:
    """What is known of a variety by any of its names; ``UNKNOWN`` where nothing is."""
    name = " ".join(plain_name(variety).replace("_", " ").replace("-", " ").split())
    return VARIETIES.get(ALIASES.get(name, name), UNKNOWN)


def take_of(variety: str) -> float:
    """Growth of mildew on this variety relative to a highly susceptible one, 0..1."""
    return TAKE_BY_RATING[variety_named(variety).mildew]
