"""Slips of the pen: a word and the known words go in, the likeliest known words come out."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

# difflib's ratio for one slip in a four-letter word ("naem" for "name") is 0.75.
CLOSE_ENOUGH = 0.7


def nearest(word: str, known: Iterable[str], count: int = 1) -> list[str]:
    """Up to ``count`` known words that ``word`` may be a slip for, the likeliest first."""
    by_folded = {candidate.casefold(): candidate for candidate in known}
    close = get_close_matches(word.casefold(), by_folded, n=count, cutoff=CLOSE_ENOUGH)
    return [by_folded[folded] for folded in close]


def listed(words: Iterable[str], joint: str = "or") -> str:
    """Words as a phrase: ``a, b or c``."""
    *head, last = list(words) or [""]
    return f"{', '.join(head)} {joint} {last}" if head else last
