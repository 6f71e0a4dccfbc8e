"""How readily varieties take powdery mildew and Botrytis.

Ratings run from 1 (low) to 3 (high). Nearly every vinifera variety rates 3 in the Midwestern extension table; lower
ratings are from memory of trade practice and can be edited. Names are compared without case and accents.
"""

from __future__ import annotations

import unicodedata

UNKNOWN_RATING = 3
"""A variety without data is taken as highly susceptible."""

MILDEW_RATING = {
    "albarino": 3,
    "barbera": 3,
    "blaufrankisch": 3,
    "cabernet franc": 3,
    "cabernet sauvignon": 3,
    "carignan": 3,
    "chardonnay": 3,
    "chasselas": 3,
    "chenin blanc": 3,
    "cinsaut": 2,
    "durif": 2,
    "gamay": 2,
    "gewurztraminer": 3,
    "grenache": 2,
    "gruner veltliner": 2,
    "malbec": 2,
    "marsanne": 3,
    "merlot": 3,
    "mourvedre": 2,
    "muller-thurgau": 3,
    "muscat blanc": 3,
    "nebbiolo": 3,
    "petit manseng": 2,
    "petit verdot": 2,
    "petite sirah": 2,
    "pinot blanc": 3,
    "pinot gris": 3,
    "pinot noir": 3,
    "primitivo": 2,
    "riesling": 3,
    "roussanne": 3,
    "sangiovese": 2,
    "sauvignon blanc": 3,
    "semillon": 2,
    "silvaner": 3,
    "syrah": 2,
    "tempranillo": 3,
    "touriga nacional": 2,
    "trebbiano": 2,
    "viognier": 2,
    "zinfandel": 2,
}

TAKE_BY_RATING = {1: 0.4, 2: 0.75, 3: 1.0}
"""Growth of mildew relative to a highly susceptible variety; stated assumption."""


def plain_name(variety: str) -> str:
    """The name in lower case without accents, for comparing."""
    decomposed = unicodedata.normalize("NFKD", variety)
    return "".join(letter for letter in decomposed if not unicodedata.combining(letter)).casefold().strip()


def mildew_rating(variety: str) -> int:
    """Susceptibility 1..3 to powdery mildew; 3 where nothing is known of the variety."""
    return MILDEW_RATING.get(plain_name(variety), UNKNOWN_RATING)


def take_of(variety: str) -> float:
    """Growth of mildew on this variety relative to a highly susceptible one, 0..1."""
    return TAKE_BY_RATING[mildew_rating(variety)]
