"""The published rules for a task file, and a checker that holds a file to them. It shares nothing with the writer.

Source of ``ATTRIBUTES`` and ``INSIDE``: the XML schema of ISO 11783-10, version 4.3 of 2018-06-04, files TaskFile and Common,
published openly beside the ISO 11783-11 online data base (supporting documents). Only what we write of it is listed: an
attribute or an element that is not here is a fault, whether the schema would let it pass or not. Rates: ISO 11783-11, online
data base, snapshot of 2024-03-10, entry 1. What binds elements together (``_bound``) is as open readers of the standard
describe its elements: one grid to a task, cells in ascending order, a value for each PDV of the zone.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from xml.etree.ElementTree import Element

import numpy as np

Rule = Callable[[str], bool]
NEEDED, FREE = True, False
UNSIGNED, SIGNED = 2**32 - 2, 2**31 - 1
_IDS = ("CTR", "FRM", "PFD", "TSK", "VPN")


def text(value: str) -> bool:
    """xs:string, maxLength 32."""
    return len(value) <= 32


def whole(least: int, most: int) -> Rule:
    """xs:unsignedByte, xs:unsignedLong or xs:long with minInclusive and maxInclusive."""
    return lambda value: bool(re.fullmatch(r"[+-]?[0-9]+", value)) and least <= int(value) <= most


def decimal(least: str, most: str, digits: int = 99) -> Rule:
    """xs:decimal, or xs:double without an exponent, with minInclusive, maxInclusive and fractionDigits."""

    def holds(value: str) -> bool:
        found = re.fullmatch(r"[+-]?[0-9]+(?:\.([0-9]*))?", value)
        is_short = found is not None and len((found.group(1) or "").rstrip("0")) <= digits
        return is_short and Decimal(least) <= Decimal(value) <= Decimal(most)

    return holds


def one_of(*words: str) -> Rule:
    """xs:NMTOKEN with an enumeration."""
    return lambda value: value in words


def named(tag: str) -> Rule:
    """xs:ID or xs:IDREF, minLength 4, maxLength 14, of one kind of element."""
    return lambda value: 4 <= len(value) <= 14 and bool(re.fullmatch(f"({tag}|{tag}-)([0-9])+", value))


def like(pattern: str) -> Rule:
    """A pattern of fixed length."""
    return lambda value: bool(re.fullmatch(pattern, value))


BYTE = whole(0, 254)
NORTH, EAST = decimal("-90", "90", 9), decimal("-180", "180", 9)

ATTRIBUTES: Mapping[str, Mapping[str, tuple[bool, Rule]]] = {
    "ISO11783_TaskData": {
        "VersionMajor": (NEEDED, one_of("4")),
        "VersionMinor": (NEEDED, one_of("0", "1", "2", "3")),
        "ManagementSoftwareManufacturer": (NEEDED, text),
        "ManagementSoftwareVersion": (NEEDED, text),
        "DataTransferOrigin": (NEEDED, one_of("1", "2")),  # 1 from the office, 2 from the machine
    },
    "CTR": {"A": (NEEDED, named("CTR")), "B": (NEEDED, text)},
    "FRM": {"A": (NEEDED, named("FRM")), "B": (NEEDED, text), "I": (FREE, named("CTR"))},
    "PFD": {
        "A": (NEEDED, named("PFD")),
        "C": (NEEDED, text),
        "D": (NEEDED, whole(0, UNSIGNED)),  # area in m2
        "E": (FREE, named("CTR")),
        "F": (FREE, named("FRM")),
    },
    "PLN": {"A": (NEEDED, one_of(*map(str, range(1, 13))))},  # 1 boundary of a field
    "LSG": {"A": (NEEDED, one_of(*map(str, range(1, 10))))},  # 1 outer ring, 2 inner ring
    "PNT": {"A": (NEEDED, one_of(*map(str, range(1, 12)))), "C": (NEEDED, NORTH), "D": (NEEDED, EAST)},  # 2 other
    "VPN": {
        "A": (NEEDED, named("VPN")),
        "B": (NEEDED, whole(-SIGNED - 1, SIGNED)),  # shown is (value + offset B) * scale C
        "C": (NEEDED, decimal("0.000000001", "100000000")),
        "D": (NEEDED, whole(0, 7)),
        "E": (FREE, text),
    },
    "TSK": {
        "A": (NEEDED, named("TSK")),
        "B": (FREE, text),
        "C": (FREE, named("CTR")),
        "D": (FREE, named("FRM")),
        "E": (FREE, named("PFD")),
        "G": (NEEDED, one_of("1", "2", "3", "4", "5", "6")),  # 1 planned
        "H": (FREE, BYTE),
        "I": (FREE, BYTE),
        "J": (FREE, BYTE),
    },
    "TZN": {"A": (NEEDED, BYTE), "B": (FREE, text)},
    "PDV": {"A": (NEEDED, like("[0-9A-Fa-f]{4}")), "B": (NEEDED, whole(-SIGNED - 1, SIGNED)), "E": (FREE, named("VPN"))},
    "GRD": {
        "A": (NEEDED, NORTH),
        "B": (NEEDED, EAST),
        "C": (NEEDED, decimal("0", "1")),
        "D": (NEEDED, decimal("0", "1")),
        "E": (NEEDED, whole(0, 2**32 - 1)),
        "F": (NEEDED, whole(0, 2**32 - 1)),
        "G": (NEEDED, like("GRD[0-9]{5}")),
        "H": (FREE, whole(0, UNSIGNED)),
        "I": (NEEDED, one_of("1", "2")),
        "J": (FREE, BYTE),
    },
}
INSIDE: Mapping[str, Mapping[str, tuple[int, int]]] = {
    "ISO11783_TaskData": {tag: (0, UNSIGNED) for tag in _IDS},
    "PFD": {"PLN": (0, UNSIGNED)},
    "PLN": {"LSG": (1, UNSIGNED)},
    "LSG": {"PNT": (1, UNSIGNED)},
    "TSK": {"TZN": (0, UNSIGNED), "GRD": (0, 1)},
    "TZN": {"PDV": (0, UNSIGNED)},
}
"""What may stand in an element, in any order, and how often."""
REFERS = {"FRM": "I", "PFD": "EF", "TSK": "CDE", "PDV": "E"}
"""xs:IDREF."""


def faults(root: Element, grids: Mapping[str, bytes]) -> list[str]:
    """Every rule that a task file breaks; ``grids``: the files beside it by their names."""
    if root.tag != "ISO11783_TaskData":
        return [f"the outermost element is {root.tag}"]
    found = [fault for each in root.iter() for fault in _of_one(each)]
    return found or [*_of_names(root), *_bound(root, grids)]


def _of_one(each: Element) -> Iterator[str]:
    rules = ATTRIBUTES.get(each.tag)
    if rules is None:
        yield f"{each.tag} is not known"
        return
    yield from (f"{each.tag} lacks {name}" for name, (is_needed, _) in rules.items() if is_needed and name not in each.attrib)
    for name, value in each.attrib.items():
        if name not in rules or not rules[name][1](value):
            yield f"{each.tag} {name} can't be {value!r}"
    inside = INSIDE.get(each.tag, {})
    tags = [child.tag for child in each]
    yield from (f"{tag} can't stand in {each.tag}" for tag in set(tags) - set(inside))
    yield from (
        f"{each.tag} holds {tags.count(tag)} {tag}" for tag, (a, b) in inside.items() if not a <= tags.count(tag) <= b
    )
    if (each.text or "").strip() or (each.tail or "").strip():
        yield f"{each.tag} holds words"


def _of_names(root: Element) -> Iterator[str]:
    ids = [each.attrib["A"] for each in root.iter() if each.tag in _IDS] + [each.attrib["G"] for each in root.iter("GRD")]
    yield from (f"{each} stands twice" for each in sorted({each for each in ids if ids.count(each) > 1}))
    for each in root.iter():
        names = [each.attrib[letter] for letter in REFERS.get(each.tag, "") if letter in each.attrib]
        yield from (f"{each.tag} names {name}, which is not there" for name in names if name not in ids)


def _bound(root: Element, grids: Mapping[str, bytes]) -> Iterator[str]:
    for polygon in root.iter("PLN"):
        if [ring.attrib["A"] for ring in polygon].count("1") != 1:
            yield "a polygon has one outer ring"
        for ring in polygon:
            ends = [(point.attrib["C"], point.attrib["D"]) for point in ring]
            if len(ends) < 4 or ends[0] != ends[-1]:
                yield "a ring is closed"
    wanted = {f"{each.attrib['G']}.BIN" for each in root.iter("GRD")}
    yield from (f"{name} is there or named without the other" for name in sorted(wanted ^ set(grids)))
    for task in root.iter("TSK"):
        zones = {zone.attrib["A"]: zone for zone in task.iter("TZN")}
        if len(zones) != len(list(task.iter("TZN"))):
            yield "a code of a zone stands twice in a task"
        yield from (f"TSK {letter} names no zone" for letter in "HIJ" if task.attrib.get(letter, "0") not in zones)
        for grid in task.iter("GRD"):
            yield from _of_grid(grid.attrib, zones, grids.get(f"{grid.attrib['G']}.BIN", b""))


def _of_grid(grid: Mapping[str, str], zones: Mapping[str, Element], cells: bytes) -> Iterator[str]:
    count = int(grid["E"]) * int(grid["F"])
    if count == 0 or float(grid["C"]) == 0.0 or float(grid["D"]) == 0.0:
        yield "a grid has cells, and cells have a size"
    if float(grid["A"]) + int(grid["F"]) * float(grid["C"]) > 90.0:
        yield "a grid ends at the pole"
    if len(cells) != int(grid.get("H", len(cells))):
        yield f"{grid['G']} is not as long as is told"
    if grid["I"] == "1":
        codes = set(np.frombuffer(cells, np.uint8).tolist())
        if len(cells) != count or not codes <= {int(code) for code in zones}:
            yield f"{grid['G']} is not a byte for each cell, of zones that there are"
    elif grid.get("J") not in zones:
        yield "GRD J names no zone"
    else:
        values = list(zones[grid["J"]])
        if len(cells) != 4 * count * len(values):
            yield f"{grid['G']} is not four bytes for each value of each cell"
        elif any(value.attrib["A"] == "0001" for value in values) and (np.frombuffer(cells, "<i4") < 0).any():
            yield "a rate is below 0"  # entry 1: 0 to 2 147 483 647
