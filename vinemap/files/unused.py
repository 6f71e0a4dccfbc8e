"""What drawn features tell that is not used here: it is said, so that nobody counts on it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from vinemap.files.geojson import Feature

_MOST_NAMED = 12
_KEYS = ("fid",)
"""The number that a GeoPackage gives each feature."""


def unused_note(name: str, features: Sequence[Feature], used: Mapping[str, Iterable[str]]) -> tuple[str, ...]:
    """A note that names the filled properties of features that are not ``used`` by features of their kind."""
    known = {kind: frozenset((*names, *_KEYS)) for kind, names in used.items()}
    found = {
        key: None
        for feature in features
        for key, value in feature.entry.values.items()
        if value and key not in known[feature.kind]
    }
    if not found:
        return ()
    named = ", ".join(list(found)[:_MOST_NAMED]) + (", …" if len(found) > _MOST_NAMED else "")
    return (f"Columns not used in {name}: {named}.",)
