"""How alike two words are; a quick look passes over most, for tables may have hundreds of columns."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from difflib import SequenceMatcher

ByLength = Mapping[int, Sequence[tuple[str, int]]]
"""Words by their length, each with its letters."""


def by_length(words: Iterable[str]) -> ByLength:
    """Words as ``likest`` takes them."""
    made: dict[int, list[tuple[str, int]]] = {}
    for word in words:
        made.setdefault(len(word), []).append((word, _letters(word)))
    return made


def likest(name: str, words: ByLength, least: float) -> float:
    """The ratio of the word most like a name, ``least`` or more and up to 1; 0 where none is so like it.

    The ratio is that of ``difflib``: twice the letters that are alike over all letters of both (Ratcliff & Metzener 1988).
    """
    best, letters = 0.0, _letters(name)
    for length, listed in words.items():
        both = length + len(name)
        if _ratio(min(length, len(name)), both) < least:
            continue
        for word, its_letters in listed:
            # every letter that the other has not is one that can't be alike
            alike = min(length - (its_letters & ~letters).bit_count(), len(name) - (letters & ~its_letters).bit_count())
            if _ratio(alike, both) < max(best, least):
                continue
            matcher = SequenceMatcher(None, word, name)
            # the quick ratio is never below the ratio
            if matcher.quick_ratio() >= max(best, least):
                best = max(best, matcher.ratio())
    return best if best >= least else 0.0


def _ratio(alike: int, both: int) -> float:
    """As ``difflib`` has it, to the last bit."""
    return 2.0 * alike / both


def _letters(word: str) -> int:
    """Which letters a word has, one bit for each; letters that share a bit only make words look more alike."""
    return sum({1 << ord(letter) % 64 for letter in word})
