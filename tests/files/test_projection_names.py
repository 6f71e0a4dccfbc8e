"""A map system's name may be anything that JSON can hold, half letters among it."""

import pytest

from vinemap.errors import InputError
from vinemap.files.projection import frame_for, to_system


@pytest.mark.parametrize("name", ["\ud800", "EPSG:\udfff"])
def test_half_a_letter_is_no_map_system(name: str) -> None:
    with pytest.raises(InputError, match="is not a map system"):
        frame_for(-122.5, 38.4, name)
    with pytest.raises(InputError, match="can't be used"):
        to_system(name, [1.0], [2.0])
