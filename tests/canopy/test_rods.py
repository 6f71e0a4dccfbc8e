"""Point quadrat: rods as they are written, and the figures that follow from them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.canopy.rods import point_quadrat, quadrat_words, read_insertions, written_insertions
from vinemap.errors import InputError, TooFewData

# worked by hand from the definitions of Smart & Robinson 1991
TEN = "LCL · G · L · CL · LLL · LLCL · G · C · LC · LL"
RODS = st.lists(st.text("LC", max_size=6), min_size=1, max_size=30)


def test_ten_rods_worked_by_hand():
    found = point_quadrat(read_insertions(TEN))
    assert (found.rods, found.gaps, found.gap_frac) == (10, 2, 0.2)
    assert found.layers == 1.3
    assert found.interior_leaf_frac == pytest.approx(2 / 13)
    assert found.interior_cluster_frac == 0.4
    assert quadrat_words(found) == (
        "1.3 layers of leaves, 20 % gaps, 15 % of the leaves inside, 40 % of the clusters inside (10 rods; 50 are usual)"
    )


@pytest.mark.parametrize(
    ("rod", "leaves_inside", "clusters_inside"),
    [
        ("L", 0.0, None),
        ("LLLL", 0.5, None),
        ("CC", None, 0.0),
        ("CLC", 0.0, 0.0),
        ("LCCL", 0.0, 1.0),
        ("CLCLC", 0.0, 1 / 3),
        ("LLCLL", 0.5, 1.0),
        ("", None, None),
    ],
)
def test_what_lies_inside_one_rod(rod, leaves_inside, clusters_inside):
    found = point_quadrat([rod])
    for value, expected in ((found.interior_leaf_frac, leaves_inside), (found.interior_cluster_frac, clusters_inside)):
        assert math.isnan(value) if expected is None else value == pytest.approx(expected)


def naive(rods):
    """The definitions, one contact at a time."""
    leaves = clusters = inner_leaves = inner_clusters = 0
    for rod in rods:
        at = [index for index, each in enumerate(rod) if each == "L"]
        leaves += len(at)
        inner_leaves += sum(1 for index in at if index not in (at[0], at[-1]))
        for index, each in enumerate(rod):
            if each == "C":
                clusters += 1
                inner_clusters += any(leaf < index for leaf in at) and any(leaf > index for leaf in at)
    return leaves, clusters, inner_leaves, inner_clusters


@given(RODS)
@settings(derandomize=True, max_examples=150)
def test_the_figures_are_those_of_the_definitions_contact_by_contact(rods):
    found = point_quadrat(rods)
    leaves, clusters, inner_leaves, inner_clusters = naive(rods)
    assert found.layers == pytest.approx(leaves / len(rods))
    assert math.isnan(found.interior_leaf_frac) if not leaves else found.interior_leaf_frac == inner_leaves / leaves
    assert (
        math.isnan(found.interior_cluster_frac) if not clusters else found.interior_cluster_frac == inner_clusters / clusters
    )
    turned = point_quadrat([rod[::-1] for rod in rods])
    # seen from the other face it is the same row
    assert repr(turned) == repr(found)


@given(RODS)
@settings(derandomize=True, max_examples=60)
def test_rods_written_out_are_read_back(rods):
    assert read_insertions(written_insertions(rods)) == tuple(rods)


def test_rods_may_be_parted_in_many_ways_and_small():
    assert read_insertions(" lcl, g; LL|C·L ") == ("LCL", "", "LL", "C", "L")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "No rods"),
        (" · ", "No rods"),
        ("LCL LXL", "“LXL” is not what a rod"),
        ("LGL", "“LGL” is not what a rod"),
        ("L" * 41, "41 leaves"),
    ],
)
def test_what_is_no_rod_is_refused(text, words):
    with pytest.raises(InputError, match=words):
        read_insertions(text)


def test_no_rods_no_figures():
    with pytest.raises(TooFewData, match="No rods were passed"):
        point_quadrat([])
