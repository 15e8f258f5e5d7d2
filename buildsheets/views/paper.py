"""A declared card size in; the paper sizes of its series that a card may be printed on, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Stock:
    """A card size in mm."""

    name: str
    width_mm: float
    height_mm: float

    def turned(self) -> Stock:
        """The same stock lying on its side."""
        return Stock(self.name, self.height_mm, self.width_mm)


# ISO 216 A series, and the North American sizes (ANSI/ASME Y14.1), upright, smallest first.
SERIES = {
    "ISO A": (
        Stock("A7", 74, 105), Stock("A6", 105, 148), Stock("A5", 148, 210),
        Stock("A4", 210, 297), Stock("A3", 297, 420),
    ),
    "US": (
        Stock("half letter", 139.7, 215.9), Stock("letter", 215.9, 279.4),
        Stock("tabloid", 279.4, 431.8),
    ),
}  # fmt: skip
DEFAULT_LARGEST = ("A4", "letter")


def stocks_from(
    width_mm: float, height_mm: float, largest: Sequence[str] = DEFAULT_LARGEST
) -> tuple[Stock, ...]:
    """The declared size, then the larger ones of its series and direction up to ``largest``."""
    lying = width_mm > height_mm
    chosen = SERIES["ISO A"]
    name = f"{width_mm:g} x {height_mm:g} mm"
    for series in SERIES.values():
        for stock in series:
            same = stock.turned() if lying else stock
            if (same.width_mm, same.height_mm) == (width_mm, height_mm):
                chosen, name = series, stock.name
    ladder = [Stock(name, width_mm, height_mm)]
    for stock in chosen:
        turned = stock.turned() if lying else stock
        if turned.width_mm > width_mm and turned.height_mm > height_mm:
            ladder.append(turned)
        if stock.name in largest:
            break
    return tuple(ladder)
