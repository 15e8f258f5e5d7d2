"""Reading distance and strings in; type sizes, line breaks and the stock that holds them out.

Nothing here shrinks text below the floor or clips it: what does not fit goes to a larger stock,
then to further cards, and what still does not fit is refused with the reason.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from typing import Generic, NamedTuple, TypeVar

from buildsheets.print.fonts import MM_PER_PT, advance_mm, main_face
from buildsheets.views.paper import Stock

# ISO 9241-303: character height 20-22 arcmin preferred, 16 arcmin the floor.
PREFERRED_ARCMIN = 20.0
FLOOR_ARCMIN = 16.0
# Largest first; NUREG-0700 rev. 2, 1.3.1-4 gives 24 arcmin as the most that still reads well.
LADDER = (24.0, 23.0, 22.0, 21.0, 20.0, 19.0, 18.0, 17.0, 16.0)
# A card's foot (code, edition, dates) is read with the card in hand.
HAND_DISTANCE_MM = 300.0

T = TypeVar("T")


class Misfit(Exception):
    """The card does not fit this stock at this size; the message says which part and how far."""


def cap_height_mm(distance_mm: float, arcmin: float) -> float:
    """Height that subtends ``arcmin`` at ``distance_mm``: 2 D tan(a/2)."""
    return 2 * distance_mm * math.tan(math.radians(arcmin / 60) / 2)


@lru_cache(maxsize=256)
def size_pt(distance_mm: float, arcmin: float) -> float:
    """Type size whose capitals subtend ``arcmin``, rounded up to 0.1 pt."""
    exact = cap_height_mm(distance_mm, arcmin) / main_face().cap_height_em / MM_PER_PT
    return math.ceil(exact * 10 - 1e-9) / 10


def seen_arcmin(distance_mm: float, points: float) -> float:
    """Angle that capitals of a type size subtend at a distance."""
    cap = points * MM_PER_PT * main_face().cap_height_em
    return math.degrees(2 * math.atan(cap / 2 / distance_mm)) * 60


class Run(NamedTuple):
    """A stretch of text in one weight and size; ``points`` 0 takes the size of its box."""

    text: str
    bold: bool = False
    points: float = 0.0


Line = tuple[Run, ...]


def line_width_mm(line: Sequence[Run], points: float) -> float:
    """Width of a line by the font's advances."""
    return sum(advance_mm(run.text, run.points or points, run.bold) for run in line)


@lru_cache(maxsize=8192)
def wrap(runs: Line, width_mm: float, points: float) -> tuple[Line, ...]:
    """Break runs into lines no wider than ``width_mm``; breaks at spaces and at newlines only.

    Raises ``Misfit`` for a single word that is too wide.
    """
    lines: list[Line] = []
    current: list[Run] = []
    used = 0.0
    for word in _words(runs):
        if word.text == "\n":
            lines.append(tuple(current))
            current, used = [], 0.0
            continue
        size = word.points or points
        wide = advance_mm(word.text, size, word.bold)
        space = advance_mm(" ", size, word.bold) if current else 0.0
        if wide > width_mm + 1e-6:
            raise Misfit(f"{word.text!r} is {wide:.1f} mm wide at {size:g} pt, has {width_mm:.1f}")
        if used + space + wide > width_mm + 1e-6:
            lines.append(tuple(current))
            current, used, space = [], 0.0, 0.0
        used += space + wide
        text = f" {word.text}" if space else word.text
        if current and (current[-1].bold, current[-1].points) == (word.bold, word.points):
            text = current.pop().text + text
        current.append(Run(text, word.bold, word.points))
    lines.append(tuple(current))
    return tuple(lines)


# A number keeps what it counts beside it; nobody should read "240" at the end of a line.
_NUMBER = re.compile(r"\(?[\d.,½¼¾⅓⅔]*[\d½¼¾⅓⅔]\Z")
_LONGEST_UNIT = 7  # letters: "days", "scoops", "ladles"


def _words(runs: Line) -> list[Run]:
    """Single words and newlines, each with the weight and size of its run."""
    words: list[Run] = []
    for run in runs:
        for place, stretch in enumerate(run.text.split("\n")):
            if place:
                words.append(Run("\n"))
            before = ""
            for word in filter(None, stretch.split(" ")):
                joined = _NUMBER.match(before) and len(word.rstrip(".,;:)")) <= _LONGEST_UNIT
                text = f"{words.pop().text}\u00a0{word}" if joined else word
                words.append(Run(text, run.bold, run.points))
                before = word
    return words


def unbroken(text: str) -> list[str]:
    """The pieces of a text that no line break parts: words, and numbers with what they count."""
    return [word.text for word in _words((Run(text),))]


@dataclass(frozen=True, slots=True)
class Fitted(Generic[T]):
    """What the search settled on: the plans, one a card, and where they stand."""

    plans: tuple[T, ...]
    stock: Stock
    arcmin: float
    reason: str  # why the declared size did not do; "" if it did


def fit(
    attempt: Callable[[Stock, float, int], tuple[T, ...]], stocks: Sequence[Stock], most_parts: int
) -> Fitted[T]:
    """The largest type on the smallest stock in the fewest cards, in the order that matters.

    ``attempt(stock, arcmin, parts)`` lays out or raises ``Misfit``. One card on the declared
    stock is tried first, then the larger stocks, then two cards on the declared stock, and so on;
    on each the largest type of the ladder is found by halving, since smaller type takes less
    room, once neither the largest nor the floor settles it: a stock larger than one that did not
    do mostly has room to spare. Raises the last ``Misfit`` if nothing fits.
    """
    reason = ""
    last = Misfit("no stock to lay out on")
    for parts in range(1, max(1, most_parts) + 1):
        for stock in stocks:
            try:
                plans, arcmin = _largest(attempt, stock, parts, roomy=stock != stocks[0])
                return Fitted(plans, stock, arcmin, reason)
            except Misfit as misfit:
                last = misfit
            reason = reason or str(last)
    raise last


def _largest(
    attempt: Callable[[Stock, float, int], tuple[T, ...]], stock: Stock, parts: int, *, roomy: bool
) -> tuple[tuple[T, ...], float]:
    """The plans at the largest rung that fits. Raises ``Misfit`` where the floor does not.

    ``roomy`` says which to try first: the largest, or the floor.
    """
    if roomy:
        with suppress(Misfit):
            return attempt(stock, LADDER[0], parts), LADDER[0]
    best = attempt(stock, LADDER[-1], parts)
    if not roomy:
        with suppress(Misfit):
            return attempt(stock, LADDER[0], parts), LADDER[0]
    fits, too_large = len(LADDER) - 1, 0
    while fits - too_large > 1:
        middle = (fits + too_large) // 2
        try:
            best, fits = attempt(stock, LADDER[middle], parts), middle
        except Misfit:
            too_large = middle
    return best, LADDER[fits]
