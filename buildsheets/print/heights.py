"""What the rows of a card take, guessed from its text or read from its layout, in; how few cards
do, and which row begins each, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from buildsheets.print import kinds
from buildsheets.print.checks import texts_of
from buildsheets.print.fonts import MM_PER_PT
from buildsheets.print.sizes import PREFERRED_ARCMIN, size_pt
from buildsheets.views.types import View

EVEN_MM = 0.1  # cards that share rows are as full as each other to this


@dataclass(frozen=True, slots=True)
class Heights:
    """Heights of a view's rows, of what stands beside them on every card, and on the last."""

    rows_mm: tuple[float, ...]
    every_mm: float
    last_mm: float

    @property
    def total_mm(self) -> float:
        """All of it on one card."""
        return self.every_mm + sum(self.rows_mm) + self.last_mm

    def times(self, growth: float) -> Heights:
        """The same with heights times a factor."""
        rows = tuple(height * growth for height in self.rows_mm)
        return Heights(rows, self.every_mm * growth, self.last_mm * growth)

    def starts(self, room_mm: float, runs: Sequence[int] = ()) -> tuple[int, ...] | None:
        """The first row of each of the fewest cards that do, the fullest as empty as can be;
        ``None`` where a row is higher than a card. ``runs`` of rows are cut only where one is."""
        blocks: list[tuple[float, ...]] = []
        for end, count in zip(accumulate(runs), runs, strict=True):
            run = self.rows_mm[end - count : end]
            last_mm = self.last_mm if end == len(self.rows_mm) else 0.0
            whole = self.every_mm + sum(run) + last_mm <= room_mm
            blocks += [run] if whole else [(row,) for row in run]
        if any(len(block) > 1 for block in blocks):
            merged = replace(self, rows_mm=tuple(map(sum, blocks)))
            firsts = [0, *accumulate(map(len, blocks))]
            found = merged.starts(room_mm)
            return found and tuple(firsts[block] for block in found)
        best = self._filled(room_mm)
        if best is None:
            return None
        cards, low, high = len(best), 0.0, room_mm
        while high - low > EVEN_MM:
            middle = (low + high) / 2
            tried = self._filled(middle)
            if tried is not None and len(tried) <= cards:
                best, high = tried, middle
            else:
                low = middle
        return best

    def _filled(self, most_mm: float) -> tuple[int, ...] | None:
        """The first row of each card, all filled up to a height; ``None`` if a row is higher."""
        starts: list[int] = []
        used = most_mm
        rows = self.rows_mm or (0.0,)
        for row, height in enumerate((*rows[:-1], rows[-1] + self.last_mm)):
            if self.every_mm + height > most_mm:
                return None
            if not starts or used + height > most_mm:
                starts.append(row)
                used = self.every_mm
            used += height
        return tuple(starts)


# Measured over the demo's cards, with the type's size (em) for a unit: what a card takes beside its
# text, each line of its rows, and each letter (em2: a wide card has more of them in a line).
BESIDE_EM = {"build": 9.0, "batch": 11.7, "station": 5.4, "addons": 6.9}
LINE_EM = {"build": 0.94, "batch": 0.0, "station": 0.77, "addons": 0.0}
LETTER_EM2 = {"build": 0.88, "batch": 1.22, "station": 0.92, "addons": 0.92}


def guessed(view: View) -> Heights:
    """About what a card will take on its declared stock at the preferred size.

    It only decides what is laid out first. Kinds that were not measured take nothing.
    """
    if view.kind not in BESIDE_EM:
        return Heights((), 0.0, 0.0)
    em_mm = size_pt(view.reading_distance_mm, PREFERRED_ARCMIN) * MM_PER_PT
    letter_mm = LETTER_EM2[view.kind] * em_mm**2 / view.width_mm
    line_mm = LINE_EM[view.kind] * em_mm
    beside = _letters(kinds.some_rows(view, 0, 0))
    rows = tuple(
        line_mm * kinds.lines(one) + letter_mm * (_letters(one) - beside)
        for row in range(kinds.rows(view))
        for one in [kinds.some_rows(view, row, row + 1)]
    )
    return Heights(rows, BESIDE_EM[view.kind] * em_mm + letter_mm * beside, 0.0)


def _letters(view: View) -> int:
    return sum(map(len, texts_of(view)))
