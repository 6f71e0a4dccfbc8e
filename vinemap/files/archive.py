"""Zip archives, opened within limits and never unpacked beside anything: KMZ, zipped shapefiles, workbooks."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from types import MappingProxyType

from vinemap.errors import FileError
from vinemap.files.text import LARGEST_BYTES, first_bytes, read_bytes

_ZIP = b"PK\x03\x04"
_EMPTY = b"PK\x05\x06"
_NESTED = (_ZIP, b"\x1f\x8b", b"7z\xbc\xaf\x27\x1c", b"Rar!", b"BZh", b"\xfd7zXZ")
_MOST_MEMBERS = 1_000
_MOST_RATIO = 200
# below this size nothing can fill a memory, however well it packs
_HARMLESS_BYTES = 5_000_000
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, RuntimeError, struct.error)


def read_archive(path: Path) -> Mapping[str, bytes]:
    """Contents of a zip archive by their names in it, folders left aside.

    Raises FileError when it is damaged, locked by a password, holds archives in turn, or would grow beyond bounds.
    """
    path = Path(path)
    data = read_bytes(path)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = [each for each in archive.infolist() if not each.is_dir()]
            _check(path.name, members)
            held = {each.filename: archive.read(each) for each in members}
    except _BROKEN as error:
        raise FileError(f"{path.name} is a damaged or cut off archive.", "Save it again from where it came.") from error
    for content in held.values():
        if content.startswith(_NESTED):
            raise FileError(f"{path.name} holds another archive inside.", "Unpack it, and bring in the files from it.")
    return MappingProxyType({name: content for name, content in held.items() if not name.startswith("__MACOSX/")})


def _check(name: str, members: list[zipfile.ZipInfo]) -> None:
    """Refuse what could do harm, before a byte is unpacked. Raises FileError."""
    unpacked = sum(each.file_size for each in members)
    if len(members) > _MOST_MEMBERS or unpacked > LARGEST_BYTES:
        raise FileError(
            f"{name} holds {len(members):,} files of {unpacked / 1e6:,.0f} MB together; at most {_MOST_MEMBERS:,} "
            f"and {LARGEST_BYTES // 10**6} MB are read.",
            "Unpack it, and bring in only what belongs to the estate.",
        )
    for each in members:
        if each.file_size > _HARMLESS_BYTES and each.file_size > _MOST_RATIO * max(each.compress_size, 1):
            raise FileError(
                f"{name} holds a file that grows {each.file_size // max(each.compress_size, 1):,}-fold when unpacked.",
                "It does not look like a file of an estate; ask where it comes from.",
            )
        parts = PurePosixPath(each.filename.replace("\\", "/"))
        if parts.is_absolute() or ".." in parts.parts or ":" in each.filename:
            raise FileError(
                f"{name} holds a file that wants to lie outside its folder.", "Ask where it comes from; it is not read."
            )
        if each.flag_bits & 1:
            raise FileError(f"{name} is locked with a password.", "Unpack it, and bring in the files from it.")
        if each.compress_type not in _METHODS:
            raise FileError(f"{name} is packed in a way that is not read here.", "Pack it again as an ordinary zip file.")
    if len({each.filename for each in members}) < len(members):
        raise FileError(f"{name} holds two files of one name.", "Unpack it, and bring in the right one.")


def names_in(path: Path) -> tuple[str, ...]:
    """Names of what a zip archive holds, none where it is no archive. Raises FileError when it is a damaged one."""
    path = Path(path)
    if first_bytes(path).startswith(_EMPTY):
        raise FileError(f"{path.name} is an archive with nothing in it.", "Save it again from where it came.")
    if not first_bytes(path).startswith(_ZIP):
        return ()
    try:
        with zipfile.ZipFile(io.BytesIO(read_bytes(path))) as archive:
            return tuple(archive.namelist())
    except _BROKEN as error:
        raise FileError(f"{path.name} is a damaged or cut off archive.", "Save it again from where it came.") from error
