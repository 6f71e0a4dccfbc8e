"""A short run of the fuzzer, and a proof that it sees what it looks for. The long one: tests/fuzz/fuzz_readers.py."""

from __future__ import annotations

import os
import random
import sys
from pathlib import Path

import pytest

if os.name == "nt":
    pytest.skip("needs limits that are not there", allow_module_level=True)

sys.path.insert(0, str(Path(__file__).resolve().parent))
import fuzz_readers
from fuzz_mutations import _WAYS, MOST_BYTES, spoil

CASES = 60


def test_spoilt_files_are_refused_in_plain_words() -> None:
    assert fuzz_readers.run_cases(range(CASES), 7) == []


def test_the_same_seed_spoils_alike_and_each_way_spoils() -> None:
    data = b'{"a": [1.5, 2, "x"], "b": {"c": 1}}\nx,y\n1,2\n3,4\n'
    made = [spoil(data, random.Random(n)) for n in range(300)]
    assert made == [spoil(data, random.Random(n)) for n in range(300)]
    assert len(set(made)) > 200
    for way in _WAYS:
        assert any(way(data, random.Random(n)) != data for n in range(20)), way.__name__
        assert all(len(spoil(b"", random.Random(n))) <= MOST_BYTES for n in range(20))


def test_any_other_error_and_a_long_wait_are_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise KeyError("planted")

    def endless(*_: object) -> None:
        while True:
            pass

    monkeypatch.setattr(fuzz_readers, "check", broken)
    failed = fuzz_readers.run_cases(range(2), 7)
    assert [(number, said.split(":")[0]) for number, _, said in failed] == [(0, "KeyError"), (1, "KeyError")]
    monkeypatch.setattr(fuzz_readers, "check", endless)
    monkeypatch.setattr(fuzz_readers, "SECONDS", 0.2)
    failed = fuzz_readers.run_cases(range(1), 7)
    assert [said.split(":")[0] for _, _, said in failed] == ["TooLong"]
