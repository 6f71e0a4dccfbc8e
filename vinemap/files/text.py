"""Text files in and out: decoding with a word about how, and writing so that a reader never sees half a file."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from vinemap.errors import FileError, Problem
from vinemap.files.whole import in_plain_words

Value = TypeVar("Value")

LARGEST_BYTES = 200_000_000
_HEAD_BYTES = 4096
_SAYS_NOTHING = b"\xef\xbb\xbf \t\n\r\x0b\x0c"


@dataclass(frozen=True, slots=True)
class Read(Generic[Value]):
    """What was read: the good part, a problem for each thing left out, and notes on how it was understood."""

    value: Value
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()


def read_bytes(path: Path) -> bytes:
    """All bytes of a file. Raises FileError when it is missing, a folder, locked, empty or above 200 MB."""
    data = _read(path, -1)
    if not data.strip():
        raise FileError(f"{Path(path).name} is empty.", "Save it again from where it came.")
    return data


def first_bytes(path: Path) -> bytes:
    """The first bytes of a file, by which its kind is known; all where those say nothing. Raises as ``read_bytes`` does."""
    data = _read(path, _HEAD_BYTES)
    return data if data.strip(_SAYS_NOTHING) else read_bytes(path)


def _read(path: Path, count: int) -> bytes:
    path = Path(path)
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise FileError(f"{path.name} is a folder.", "Choose a file in it.")
        if size > LARGEST_BYTES:
            raise FileError(
                f"{path.name} is {size / 1e6:,.0f} MB; at most {LARGEST_BYTES // 10**6} MB can be read.",
                "Split it, one block or one month to a file.",
            )
        with path.open("rb") as stream:
            return stream.read(count)
    except FileNotFoundError as error:
        raise FileError(f"There is no file {path.name} in {path.absolute().parent}.", "Check its name and folder.") from error
    except (OSError, ValueError) as error:
        raise FileError(
            f"{path.name} can’t be opened: {getattr(error, 'strerror', None) or error}.",
            "Close it in other programs and check that you may read it.",
        ) from error


def read_text(path: Path) -> tuple[str, tuple[str, ...]]:
    """Text of a file and notes on its encoding: UTF-8, UTF-16 with a mark at its start, else Windows-1252.

    Raises FileError as ``read_bytes`` does, and when it is not text.
    """
    return decoded(Path(path).name, read_bytes(path))


def decoded(name: str, data: bytes) -> tuple[str, tuple[str, ...]]:
    """The same for bytes that are in hand; ``name`` is the file's. Raises FileError when they are not text."""
    encoding, notes = "utf-8-sig", tuple[str, ...]()
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding, notes = "utf-16", (f"{name} was read as UTF-16 text.",)
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        notes = (f"{name} is not UTF-8; it was read as Windows text (1252). Check the accents in names.",)
        try:
            text = data.decode("cp1252")
        except UnicodeDecodeError:
            text = "\0"
    if "\0" in text:
        raise FileError(f"{name} is not a text file.", "Save it as CSV or GeoJSON and try again.")
    if not text.strip():
        raise FileError(f"{name} is empty.", "Save it again from where it came.")
    return text, notes


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 text; the file appears whole or not at all. Raises FileError when it can't be written."""
    path = Path(path)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    with in_plain_words(path):
        try:
            with part.open("w", encoding="utf-8", newline="") as stream:
                stream.write(text)
                stream.flush()
                os.fsync(stream.fileno())
            os.replace(part, path)
        finally:
            part.unlink(missing_ok=True)
