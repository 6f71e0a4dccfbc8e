"""XML of map files (KML, GPX), read without anything that it might ask for from elsewhere."""

from __future__ import annotations

from collections.abc import Iterator
from typing import cast
from xml.etree.ElementTree import Element, ParseError, XMLPullParser

from vinemap.errors import FileError
from vinemap.files.text import decoded

_MOST_DEEP = 60
_MOST_ELEMENTS = 1_000_000
# a declaration of document type or entities is how XML swells or reaches out; no map file needs one
_DECLARATIONS = ("<!doctype", "<!entity")
_CHUNK = 65_536


def root_name(data: bytes) -> str:
    """Lower-case name of the first element, "" where this does not begin as XML."""
    head = data[:4096]
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        head = head.decode("utf-16", "ignore").encode("utf-8")
    text = head.decode("utf-8-sig", "replace").lstrip()
    if not text.startswith("<"):
        return ""
    for piece in text.split("<")[1:]:
        if piece[:1].isalpha():
            name = piece.split(">")[0].split()[0] if piece.split(">")[0].split() else ""
            return name.rstrip("/").rpartition(":")[2].casefold()
    return ""


def parse_xml(name: str, data: bytes) -> tuple[Element, tuple[str, ...]]:
    """The root of a document, names of elements without their namespaces; and notes on its encoding.

    Raises FileError when it is not sound XML, declares a document type or entities, or is nested or large beyond use.
    """
    text, notes = decoded(name, data)
    if any(word in text.casefold() for word in _DECLARATIONS):
        raise FileError(
            f"{name} declares a document type or entities, which could make it grow or reach elsewhere.",
            "No map file needs them: export it again, or ask where it comes from.",
        )
    parser: XMLPullParser[Element] = XMLPullParser(("start", "end"))
    root: Element | None = None
    depth = count = 0
    try:
        for start in range(0, len(text), _CHUNK):
            parser.feed(text[start : start + _CHUNK])
            for event, element in cast("Iterator[tuple[str, Element]]", parser.read_events()):
                depth += 1 if event == "start" else -1
                if event == "start":
                    count += 1
                    root = element if root is None else root
                    element.tag = str(element.tag).rpartition("}")[2]
                if depth > _MOST_DEEP or count > _MOST_ELEMENTS:
                    raise FileError(f"{name} is nested or large beyond use.", "Export only what belongs to the estate.")
        parser.close()
    except (ParseError, ValueError) as error:
        line = getattr(error, "position", (0, 0))[0]
        raise FileError(
            f"{name} is not sound XML{f': it breaks off or goes wrong at line {line}' if line else ''}.",
            "It may be cut off or edited by hand; save it again from where it came.",
        ) from error
    if root is None:
        raise FileError(f"{name} holds nothing.", "Save it again from where it came.")
    return root, notes
