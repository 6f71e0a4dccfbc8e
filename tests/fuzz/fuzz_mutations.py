"""Ways to spoil a file: bits, cuts, repeats, odd numbers and words, deep nesting, other encodings."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Callable
from typing import Any

_NUMBER = re.compile(rb"-?[0-9]+(?:\.[0-9]+)?")
_ODD_TEXTS = (
    *(b"NaN", b"nan", b"inf", b"-Infinity", b"1e400", b"-1e308", b"1e-400", b"9" * 400, b"0", b"-0.0", b"-1", b"", b" "),
    *(b"null", b"true", b"[]", b"{}", b'""', b"'", b'"', b",", b";", b"\t", b"\n", b"\r", b"\0", b"\xff", b"\xef\xbb\xbf"),
    *(
        b"2026-13-45",
        b"0000-00-00",
        b"9999-12-31T23:59:60Z",
        b"24:00",
        b"\xe2\x80\xae",
        b"\xf0\x9f\x8d\x87",
        b"=1+1",
        b"/",
        b"..",
        b"%s",
    ),
    *(
        b"2147483648",
        b"-2147483649",
        b"18446744073709551616",
        b"1_000",
        b"0x10",
        b"1,5",
        b"1.000,5",
        b"\xd9\xa3",
        b"\xc2\xbd",
    ),
)
_ODD_VALUES: tuple[Any, ...] = (
    *(None, True, False, 0, -1, 1e308, -1e308, 10**30, float("nan"), float("inf"), "", " ", "x", "\0", "\ud800", "NaN"),
    *([], {}, [[]], [{}], [0, 0], [1e9, 1e9], [[0, 0], [0, 0]], [[0, 0], [1, 1], [0, 0]], {"type": "Point"}, "9" * 50),
    *(
        "Polygon",
        "GeometryCollection",
        "FeatureCollection",
        "MultiLineString",
        [None],
        ["a", "b"],
        [[["a"]]],
        {"a": {"a": {}}},
    ),
)
_ENCODINGS = ("utf-16", "utf-16-le", "utf-32", "cp1252", "utf-8-sig", "utf-7", "cp037", "shift_jis")
MOST_BYTES = 2_000_000


def spoil(data: bytes, chance: random.Random) -> bytes:
    """The bytes of a file, spoilt in one to four ways."""
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        data = chance.choice(_WAYS)(data, chance)[:MOST_BYTES]
    return data


def _flip(data: bytes, chance: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 8, 64))):
        if changed:
            changed[chance.randrange(len(changed))] ^= 1 << chance.randrange(8)
    return bytes(changed)


def _flip_early(data: bytes, chance: random.Random) -> bytes:
    """What matters most stands at the start of most formats."""
    return _flip(data[:200], chance) + data[200:]


def _set_word(data: bytes, chance: random.Random) -> bytes:
    """Two, four or eight bytes become an extreme whole number."""
    size = chance.choice((1, 2, 4, 8))
    at = chance.randrange(max(len(data) - size, 1))
    word = chance.choice((b"\0" * size, b"\xff" * size, b"\x7f" + b"\xff" * (size - 1), b"\xff" * (size - 1) + b"\x7f"))
    return data[:at] + word + data[at + size :]


def _cut(data: bytes, chance: random.Random) -> bytes:
    return data[: chance.randrange(len(data) + 1)]


def _cut_out(data: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(data) + 1)
    return data[:at] + data[at + chance.choice((1, 2, 10, 100, 1000)) :]


def _repeat(data: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(data) + 1)
    piece = data[at : at + chance.choice((1, 10, 100, 1000))]
    return data[:at] + piece * chance.choice((2, 3, 50)) + data[at:]


def _insert(data: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(data) + 1)
    return data[:at] + chance.choice((*_ODD_TEXTS, chance.randbytes(8))) + data[at:]


def _odd_number(data: bytes, chance: random.Random) -> bytes:
    found = list(_NUMBER.finditer(data))
    if not found:
        return _insert(data, chance)
    each = chance.choice(found)
    return data[: each.start()] + chance.choice(_ODD_TEXTS) + data[each.end() :]


def _odd_cell(data: bytes, chance: random.Random) -> bytes:
    lines = data.split(b"\n")
    at = chance.randrange(len(lines))
    cells = lines[at].split(b",")
    cells[chance.randrange(len(cells))] = chance.choice(_ODD_TEXTS)
    lines[at] = b",".join(cells)
    return b"\n".join(lines)


def _swap_lines(data: bytes, chance: random.Random) -> bytes:
    lines = data.split(b"\n")
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


def _other_encoding(data: bytes, chance: random.Random) -> bytes:
    return data.decode("utf-8", "replace").encode(chance.choice(_ENCODINGS), "replace")


def _nothing(data: bytes, chance: random.Random) -> bytes:
    return chance.choice(
        (b"", b" ", b"\n", b"\0", b"\xef\xbb\xbf", b"{}", b"[]", b"null", data[:1], b"\0" * 512, b"<a/>", b"PK")
    )


def _nest(data: bytes, chance: random.Random) -> bytes:
    """Deep nesting, where some reader may have no end to its patience."""
    depth = chance.choice((50, 900, 20_000))
    opening, closing = chance.choice(
        ((b"[", b"]"), (b'{"a":', b"}"), (b"<Folder>", b"</Folder>"), (b"(", b")"), (b'"', b'"'))
    )
    at = chance.randrange(len(data) + 1)
    return data[:at] + opening * depth + b"1" + closing * depth + data[at:]


def odd_node(data: bytes, chance: random.Random) -> bytes:
    """A value anywhere in a JSON file becomes one of another type."""
    try:
        whole = json.loads(data)
    except (ValueError, RecursionError):
        return _odd_number(data, chance)
    if not isinstance(whole, (dict, list)) or not whole:
        return _insert(data, chance)
    node: Any = whole
    while True:
        key = chance.choice(list(node)) if isinstance(node, dict) else chance.randrange(len(node))
        inner = node[key]
        if isinstance(inner, (dict, list)) and inner and chance.random() < 0.85:
            node = inner
            continue
        node[key] = chance.choice(_ODD_VALUES)
        break
    return json.dumps(whole).encode()


_WAYS: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    *(_flip, _flip_early, _set_word, _cut, _cut_out, _repeat, _insert, _odd_number, _odd_number, _odd_cell, _odd_cell),
    *(_swap_lines, _other_encoding, _nothing, _nest, odd_node, odd_node, odd_node),
)
