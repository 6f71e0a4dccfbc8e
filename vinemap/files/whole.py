"""Files made by others in a folder of their own, and put in place whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from vinemap.errors import FileError


@contextmanager
def made_beside(path: Path) -> Iterator[Path]:
    """A new folder beside ``path`` to make files in; it is gone afterwards. Raises FileError when it can't be used."""
    path = Path(path)
    with in_plain_words(path):
        folder = Path(tempfile.mkdtemp(prefix=f".{path.name}.", suffix=".part", dir=path.absolute().parent))
        try:
            yield folder
        finally:
            shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def in_plain_words(path: Path) -> Iterator[None]:
    """Turn what the system says about writing ``path`` into a FileError."""
    try:
        yield
    except OSError as error:
        raise FileError(
            f"{path.name} can’t be written in {path.parent}: {error.strerror or error}.",
            "Choose another folder, or close the file in other programs and free some space.",
        ) from error


def put_in_place(moves: Sequence[tuple[Path, Path]]) -> None:
    """Move finished files to where they belong, each at once and safe on the disk; the last is the one that is opened."""
    for made, _ in moves:
        with made.open("rb+") as stream:
            os.fsync(stream.fileno())
    for made, place in moves:
        os.replace(made, place)


def put_zipped(folder: Path, names: Mapping[str, str], path: Path) -> None:
    """Put files made in ``folder`` into a zip archive at ``path``; ``names``: what each is called there, by its name here."""
    whole = folder / "whole.zip"
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        for made, name in names.items():
            archive.write(folder / made, name)
    put_in_place([(whole, path)])
