"""Varieties by any of their names, with what is known of them."""

import pytest

from vinemap.work.varieties import ALIASES, UNKNOWN, VARIETIES, plain_name, take_of, variety_named


@pytest.mark.parametrize(
    ("name", "is_called"),
    [
        *[("Grenache noir", "grenache"), ("Ugni blanc", "trebbiano"), ("Cot", "malbec"), ("Côt", "malbec")],
        *[("Müller-Thurgau", "muller thurgau"), ("MULLER THURGAU", "muller thurgau"), ("Gewürztraminer", "gewurztraminer")],
        *[("Shiraz", "syrah"), ("Primitivo", "zinfandel"), ("Petite Sirah", "durif"), (" pinot  noir ", "pinot noir")],
        *[("Mourvèdre", "mourvedre"), ("Lemberger", "blaufrankisch"), ("Sultana", "thompson seedless")],
    ],
)
def test_a_variety_has_many_names(name, is_called):
    assert variety_named(name) is VARIETIES[is_called]


def test_what_is_not_known_is_flagged_and_taken_as_susceptible():
    # Without data: mildew 3, rot 2, density 5 (stated assumption).
    found = variety_named("Vine of Nowhere")
    assert found is UNKNOWN
    assert (found.mildew, found.rot, found.density, found.is_known) == (3, 2, 5, False)
    assert take_of("Vine of Nowhere") == 1.0
    assert take_of("Syrah") == 0.75


def test_rot_of_varieties_as_published():
    # Panitrur-De la Fuente et al. 2018: least Cabernet Sauvignon, Cabernet franc, Grenache noir, Petit Verdot; most
    # Gewurztraminer and Sauvignon blanc.
    assert {
        variety_named(name).rot for name in ("Cabernet Sauvignon", "Cabernet franc", "Grenache noir", "Petit Verdot")
    } == {1}
    assert {variety_named(name).rot for name in ("Gewurztraminer", "Sauvignon blanc")} == {3}


def test_sums_of_warmth_as_published():
    # Parker et al. 2011 and 2013, from memory.
    assert (variety_named("Chardonnay").bloom_sum, variety_named("Chardonnay").colour_sum) == (1217, 2547)
    assert (variety_named("Ugni blanc").bloom_sum, variety_named("Ugni blanc").colour_sum) == (1376, 2799)
    assert (variety_named("Pinot noir").bloom_sum, variety_named("Pinot noir").colour_sum) == (1219, 2511)


def test_the_table_is_whole():
    assert all(plain_name(name) == name for name in (*VARIETIES, *ALIASES))
    assert set(ALIASES.values()) <= set(VARIETIES)
    assert not set(ALIASES) & set(VARIETIES)
    for each in VARIETIES.values():
        assert each.mildew in (1, 2, 3)
        assert each.rot in (1, 2, 3)
        assert 1 <= each.density <= 9
        assert (each.bloom_sum is None) == (each.colour_sum is None)
        assert each.bloom_sum is None or 1200 < each.bloom_sum < 1400 < 2300 < each.colour_sum < 2850
