"""Card size and sheet in; where each card lies on the sheet's front and back, unscaled, out.

Lengths in mm; places count from the sheet's top left corner, to the right and down.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from buildsheets.print.gauge import POUCH_BORDER_MM
from buildsheets.views.paper import SERIES, Paper

# common practice, no source: desk printers leave four to five mm of a sheet's edge blank.
PRINTER_MARGIN_MM = 5.0
# common practice, no source: how far a guillotine or scissors stray from a mark.
BLEED_MM = 2.0
LARGEST_SHEET_MM = 2000.0
"""Twice A0 is no sheet a printer takes (common practice, no source)."""
FLIPS = ("", "long-edge", "short-edge")

_CLOSE_MM = 1e-6


@dataclass(frozen=True, slots=True)
class SheetOptions:
    """What the cards are printed on and how they are finished; lengths in mm.

    ``pouch_border_mm`` is kept free on all sides of a card, so that it can be cut and sealed in
    a pouch, or the whole sheet laminated and then cut: both come out at the same outer size and
    stand equally high. ``gutter_mm`` is the least gap between cards, ``flip`` says how the
    printer turns the sheet ("" prints one side).
    """

    sheet: Paper = SERIES["ISO A"][3]
    pouch_border_mm: float = POUCH_BORDER_MM
    margin_mm: float = PRINTER_MARGIN_MM
    gutter_mm: float = 0.0
    bleed_mm: float = BLEED_MM
    radius_mm: float = 0.0
    flip: str = ""
    title: str = ""
    author: str = ""
    edition: str = ""
    language: str = "en"

    def __post_init__(self) -> None:
        if self.flip not in FLIPS:
            raise ValueError(f"flip {self.flip!r} is none of {', '.join(filter(None, FLIPS))}")
        for name in ("pouch_border_mm", "margin_mm", "gutter_mm", "bleed_mm", "radius_mm"):
            if not 0 <= getattr(self, name) <= LARGEST_SHEET_MM:
                raise ValueError(f"{name} {getattr(self, name)!r} is not a length")

    @property
    def gap_mm(self) -> float:
        """Between the trimmed edges of neighbours: room for both their borders and bleeds."""
        return max(self.gutter_mm, 2 * self.pouch_border_mm, 2 * self.bleed_mm)

    @property
    def edge_mm(self) -> float:
        """Between a trimmed edge and the edge of the sheet, at least."""
        return max(self.margin_mm, self.pouch_border_mm, self.bleed_mm)


def sheet_named(text: str) -> Paper:
    """A sheet by its name ("A4", "letter") or its size in mm ("320x450"); ``ValueError`` else."""
    for series in SERIES.values():
        for stock in series:
            if stock.name.casefold() == text.strip().casefold():
                return stock
    try:
        width, height = (float(part) for part in text.lower().replace("mm", "").split("x"))
    except ValueError:
        names = ", ".join(stock.name for series in SERIES.values() for stock in series)
        raise ValueError(
            f"sheet {text!r} is none of {names}, nor a size in mm such as 320x450"
        ) from None
    if not (0 < width <= LARGEST_SHEET_MM and 0 < height <= LARGEST_SHEET_MM):
        raise ValueError(f"sheet {text!r}: each side above 0 and up to {LARGEST_SHEET_MM:g} mm")
    return Paper(f"{width:g} x {height:g} mm", min(width, height), max(width, height))


@dataclass(frozen=True, slots=True)
class Matrix:
    """A move without scaling: a point (a, b) goes to (xx a + xy b + x, yx a + yy b + y), in mm."""

    xx: int
    xy: int
    yx: int
    yy: int
    x: float
    y: float

    def point(self, a: float, b: float) -> tuple[float, float]:
        """Where a point goes."""
        return self.xx * a + self.xy * b + self.x, self.yx * a + self.yy * b + self.y

    def after(self, first: Matrix) -> Matrix:
        """The move that does ``first`` and then this."""
        x, y = self.point(first.x, first.y)
        return Matrix(
            self.xx * first.xx + self.xy * first.yx,
            self.xx * first.xy + self.xy * first.yy,
            self.yx * first.xx + self.yy * first.yx,
            self.yx * first.xy + self.yy * first.yy,
            x,
            y,
        )


@dataclass(frozen=True, slots=True)
class Grid:
    """Equal cards in rows and columns in the middle of a sheet that lies as ``sheet`` says.

    ``snug`` grids hold one card that leaves no room for the margin, border and marks asked for. In
    ``close`` ones cards touch, one cut between two, and reach into the sheet's blank edge. Cards
    are blank at their edges but the left, where the gauge is: the first column stands on its head,
    so that its left edge is inside.
    """

    sheet: Paper
    card_width_mm: float
    card_height_mm: float
    across: int
    down: int
    gap_mm: float
    snug: bool = False
    close: bool = False

    @property
    def count(self) -> int:
        """Cards on one side."""
        return self.across * self.down

    @property
    def lefts_mm(self) -> tuple[float, ...]:
        """Left trimmed edge of each column."""
        return _starts(self.sheet.width_mm, self.card_width_mm, self.across, self.gap_mm)

    @property
    def tops_mm(self) -> tuple[float, ...]:
        """Top trimmed edge of each row."""
        gap = self.gap_mm
        if self.close and self.down > 1:  # the foot of a card is the edge of the sheet, uncut
            gap = (self.sheet.height_mm - self.down * self.card_height_mm) / (self.down - 1)
        return _starts(self.sheet.height_mm, self.card_height_mm, self.down, gap)

    def front(self, place: int) -> Matrix:
        """Where the card at a place lies, places counted in reading order from 0."""
        row, column = divmod(place, self.across)
        left, top = self.lefts_mm[column], self.tops_mm[row]
        if self.close and column == 0 and self.across > 1:
            return Matrix(-1, 0, 0, -1, left + self.card_width_mm, top + self.card_height_mm)
        return Matrix(1, 0, 0, 1, left, top)

    def back(self, place: int, flip: str) -> Matrix:
        """Where the card behind that one lies on the sheet's other side, as its page is printed.

        A card is turned like the leaf of a book, so that it stands on the same edge on both
        sides. The sheet turns about the edge the printer was told, which is upright or level
        depending on how the sheet lies.
        """
        upright = self.sheet.height_mm >= self.sheet.width_mm
        if (flip == "long-edge") == upright:
            turned = Matrix(-1, 0, 0, 1, self.sheet.width_mm, 0)
        else:
            turned = Matrix(1, 0, 0, -1, 0, self.sheet.height_mm)
        leaf = Matrix(-1, 0, 0, 1, self.card_width_mm, 0)
        return turned.after(self.front(place)).after(leaf)


def _starts(room: float, size: float, count: int, gap: float) -> tuple[float, ...]:
    first = (room - count * size - (count - 1) * gap) / 2
    return tuple(first + index * (size + gap) for index in range(count))


def arrange(
    width_mm: float, height_mm: float, options: SheetOptions, cards: int = 1
) -> Grid | None:
    """The grid that takes fewest sheets for so many cards of a size, the sheet upright or lying;
    ``None`` if none fits.

    Of two that hold as many, the sheet lies as the card does. Cards lie close, without their
    borders and marks, only where that saves a sheet, on sheets printed on one side.
    """
    lying = width_mm > height_mm
    upright, turned = options.sheet, options.sheet.turned()
    ways = (
        (turned, upright) if lying != (upright.width_mm > upright.height_mm) else (upright, turned)
    )
    gap = options.gap_mm

    def fitting(room: float, size: float) -> int:
        return max(0, math.floor((room - 2 * options.edge_mm + gap + _CLOSE_MM) / (size + gap)))

    best: Grid | None = None
    for sheet in ways:
        across, down = fitting(sheet.width_mm, width_mm), fitting(sheet.height_mm, height_mm)
        grid = Grid(sheet, width_mm, height_mm, across, down, gap)
        if grid.count > (best.count if best else 0):
            best = grid
    blank = options.margin_mm <= PRINTER_MARGIN_MM  # cards are blank so far from their edges
    close = _close(width_mm, height_mm, options, ways) if blank and not options.flip else None
    apart = best.count if best else 1
    if close and math.ceil(cards / close.count) < math.ceil(cards / apart):
        return close
    if best:
        return best
    for sheet in ways:
        if width_mm <= sheet.width_mm + _CLOSE_MM and height_mm <= sheet.height_mm + _CLOSE_MM:
            return Grid(sheet, width_mm, height_mm, 1, 1, gap, snug=True)
    return None


def _close(
    width_mm: float, height_mm: float, options: SheetOptions, ways: Sequence[Paper]
) -> Grid | None:
    """The grid of touching cards that holds most, where the printer's blank edge is no wider than
    that of cards, and no left edge of a card lies in it."""
    grids = [
        Grid(
            sheet, width_mm, height_mm, math.floor((sheet.width_mm + _CLOSE_MM) / width_mm),
            math.floor((sheet.height_mm + _CLOSE_MM) / height_mm), 0.0, close=True,
        )
        for sheet in ways
    ]  # fmt: skip
    usable = [
        grid
        for grid in grids
        if grid.count and (grid.across > 1 or grid.lefts_mm[0] >= options.margin_mm)
    ]
    return max(usable, key=lambda grid: grid.count, default=None)


def sheets_for(width_mm: float, height_mm: float, options: SheetOptions) -> tuple[str, ...]:
    """The smallest sheet of each series that holds a card with its border and margin."""
    border = 2 * options.edge_mm
    found = []
    for series in SERIES.values():
        for stock in series:
            ways = ((stock.width_mm, stock.height_mm), (stock.height_mm, stock.width_mm))
            if any(w >= width_mm + border and h >= height_mm + border for w, h in ways):
                found.append(stock.name)
                break
    return tuple(found)
