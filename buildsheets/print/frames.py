"""A call in; its result out, the calls below it all in one stretch of memory.

CPython keeps the frames of calls in stretches of 16 KB (measured on 3.11), and where a loop calls
across the end of one, every call takes a stretch from the system and gives it back. The PDF
engine, deep and full of loops, took 31 to 46 ms a card for the same cards, as it happened to be
called from more or fewer calls up. A frame that asks for more than 128 KB gets a stretch of 256 KB,
and leaves the rest of it to what it calls.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")

_WORDS = 17_000


def in_one_stretch(work: Callable[[], T]) -> T:
    """What ``work`` returns."""
    return work()


# Names that nothing uses, for the room they take.
in_one_stretch.__code__ = in_one_stretch.__code__.replace(
    co_nlocals=_WORDS, co_varnames=("work", *(f"_{n}" for n in range(1, _WORDS)))
)
