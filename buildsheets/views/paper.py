"""A declared card size in; the paper sizes of its series that a card may be printed on, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

# From the eye to what is read; common practice, no source.
WALL_MM = 500.0  # a sheet on the wall behind the counter
BENCH_MM = 500.0  # a card on the prep bench
BOARD_MM = 400.0  # a sheet that people step up to: the prep sheet, the card of words
SHELF_MM = 350.0  # a label on a container held or on a shelf
HAND_MM = 300.0  # a sheet in the hand


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper or card size in mm."""

    name: str
    width_mm: float
    height_mm: float

    def turned(self) -> Paper:
        """The same paper lying on its side."""
        return Paper(self.name, self.height_mm, self.width_mm)


# ISO 216 A series, and the North American sizes (ANSI/ASME Y14.1), upright, smallest first.
SERIES = {
    "ISO A": (
        Paper("A7", 74, 105), Paper("A6", 105, 148), Paper("A5", 148, 210),
        Paper("A4", 210, 297), Paper("A3", 297, 420),
    ),
    "US": (
        Paper("half letter", 139.7, 215.9), Paper("letter", 215.9, 279.4),
        Paper("tabloid", 279.4, 431.8),
    ),
}  # fmt: skip


DEFAULT_LARGEST = ("A4", "letter")
WIDEST = ("A3", "tabloid")


def sheet_mm(card: tuple[float, float]) -> tuple[float, float]:
    """Short and long side of a shop's sheets: letter for cards of that series, else A4."""
    us = any({one.width_mm, one.height_mm} == set(card) for one in SERIES["US"])
    paper = SERIES["US"][1] if us else SERIES["ISO A"][3]
    return paper.width_mm, paper.height_mm


def neighbour(width_mm: float, height_mm: float, steps: int) -> Paper | None:
    """The upright paper so many sizes larger in the series of a size, which may lie on its side."""
    size = tuple(sorted((width_mm, height_mm)))
    for series in SERIES.values():
        sizes = [(paper.width_mm, paper.height_mm) for paper in series]
        if size in sizes and 0 <= (at := sizes.index(size) + steps) < len(sizes):
            return series[at]
    return None


def papers_from(
    width_mm: float,
    height_mm: float,
    largest: Sequence[str] = DEFAULT_LARGEST,
    reach_mm: float = 0.0,
) -> tuple[Paper, ...]:
    """The declared size, then the larger ones of its series and direction up to ``largest``; and
    where none of them is ``reach_mm`` high, the smallest paper of the series that is, if any."""
    lying = width_mm > height_mm
    chosen = SERIES["ISO A"]
    name = f"{width_mm:g} x {height_mm:g} mm"
    for series in SERIES.values():
        for paper in series:
            same = paper.turned() if lying else paper
            if (same.width_mm, same.height_mm) == (width_mm, height_mm):
                chosen, name = series, paper.name
    ladder = [Paper(name, width_mm, height_mm)]
    for paper in chosen:
        turned = paper.turned() if lying else paper
        if turned.width_mm > width_mm and turned.height_mm > height_mm:
            ladder.append(turned)
        if paper.name in largest:
            break
    if all(paper.height_mm < reach_mm for paper in ladder):
        ladder += [paper for paper in chosen if paper.height_mm >= reach_mm][:1]
    return tuple(ladder)
