"""What a shapefile says of its letters may be anything: it is believed where it names a coding of text."""

import struct

import pytest

from vinemap.files.shapefile import _encoding


@pytest.mark.parametrize(
    ("said", "found"),
    [(b"UTF-8", "utf-8"), (b"1252", "cp1252"), (b"ANSI 1250", "cp1250"), (b"ISO-8859-1\n", "iso8859-1")],
)
def test_a_coding_of_text_is_taken(said: bytes, found: str) -> None:
    assert _encoding("a.shp", {".cpg": said, ".dbf": table(b"\xe9 ")})[0] == found


@pytest.mark.parametrize("said", [b"UTF\x00-8", b"nonsense", b"hex", b"\xff\xfe", b"99999", b""])
def test_anything_else_says_nothing(said: bytes) -> None:
    assert _encoding("a.shp", {".cpg": said, ".dbf": table(b"\xe9 ")})[0] == "cp1252"


def table(body: bytes) -> bytes:
    return bytes(8) + struct.pack("<H", 10) + body
