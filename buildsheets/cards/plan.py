"""Strings and type sizes in; placed blocks of text and drawing, in mm on the card, out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from buildsheets.cards.fonts import MM_PER_PT, advance_mm
from buildsheets.cards.gauge import POUCH_BORDER_MM
from buildsheets.cards.legibility import (
    FLOOR_ARCMIN,
    HAND_DISTANCE_MM,
    PREFERRED_ARCMIN,
    Line,
    Misfit,
    Run,
    Stock,
    line_width_mm,
    size_pt,
    wrap,
)
from buildsheets.cards.qr import QrCode
from buildsheets.cards.views import CardView, StationMark
from buildsheets.cards.words import Words

# Kerning is left out of the sums; boxes are this much wider than the sum says.
SLACK_MM = 0.6


@dataclass(frozen=True, slots=True)
class Text:
    """A box of ready-broken lines: top left corner and width in mm, size in pt."""

    kind: str
    x_mm: float
    y_mm: float
    width_mm: float
    points: float
    leading_mm: float
    lines: tuple[Line, ...]
    align: str = "left"
    ink: str = ""
    tab_mm: float = 0.0

    @property
    def height_mm(self) -> float:
        """Height of all lines."""
        return self.leading_mm * len(self.lines)


@dataclass(frozen=True, slots=True)
class Block:
    """Texts and SVG (in mm) that move together, and the height they take."""

    texts: tuple[Text, ...] = ()
    art: str = ""
    height_mm: float = 0.0

    def moved(self, dx_mm: float, dy_mm: float) -> Block:
        """The same block elsewhere."""
        art = self.art and f'<g transform="translate({dx_mm:.3f} {dy_mm:.3f})">{self.art}</g>'
        texts = tuple(
            replace(text, x_mm=text.x_mm + dx_mm, y_mm=text.y_mm + dy_mm) for text in self.texts
        )
        return Block(texts, art, self.height_mm)


def stacked(blocks: Sequence[Block], gap_mm: float) -> Block:
    """Blocks one under the other; empty ones leave no gap."""
    texts: list[Text] = []
    art: list[str] = []
    y = 0.0
    for block in blocks:
        if not block.height_mm:
            continue
        y += gap_mm if y else 0.0
        placed = block.moved(0, y)
        texts += placed.texts
        art.append(placed.art)
        y += block.height_mm
    return Block(tuple(texts), "".join(art), y)


@dataclass(frozen=True, slots=True)
class Zone:
    """A named part of a card; ``bottom_mm`` is where its last text has to end."""

    name: str
    texts: tuple[Text, ...]
    bottom_mm: float


@dataclass(frozen=True, slots=True)
class Picture:
    """A QR code on the card: place in mm and what it says."""

    code: QrCode
    x_mm: float
    y_mm: float
    alt: str


@dataclass(frozen=True, slots=True)
class Plan:
    """One card ready to print: every text broken and placed, drawings, and the reading size."""

    view: CardView
    title: str
    stock: Stock
    arcmin: float
    part: int
    parts: int
    zones: tuple[Zone, ...]
    art: str
    alt: str
    qr: Picture | None

    def zone(self, name: str) -> Zone:
        """A zone by name."""
        return next(zone for zone in self.zones if zone.name == name)


@dataclass(frozen=True, slots=True)
class Desk:
    """What every layout needs at hand: tokens, words, type sizes in pt, and the pouch border.

    ``body`` is the size being tried; ``minor`` is the floor at the reading distance, below which
    no working text goes; ``hand`` is for what is read with the card in hand.
    """

    tokens: Mapping[str, Any]
    words: Words
    body: float
    minor: float
    hand: float
    pouch_border_mm: float

    @classmethod
    def at(
        cls,
        tokens: Mapping[str, Any],
        words: Words,
        distance_mm: float,
        arcmin: float,
        pouch_border_mm: float = POUCH_BORDER_MM,
    ) -> Desk:
        """Sizes for a reading distance and the angle being tried."""
        return cls(
            tokens,
            words,
            size_pt(distance_mm, arcmin),
            size_pt(distance_mm, FLOOR_ARCMIN),
            size_pt(HAND_DISTANCE_MM, PREFERRED_ARCMIN),
            pouch_border_mm,
        )

    def space(self, name: str) -> float:
        """A length token in mm."""
        return float(self.tokens["space"][name])

    def colour(self, name: str) -> str:
        """A colour token."""
        return str(self.tokens["colour"][name])

    def sized(self, name: str) -> float:
        """Body size times a type ratio, never under the floor, to 0.1 pt."""
        return max(self.minor, round(self.body * float(self.tokens["type"][name]), 1))

    def leading(self, points: float) -> float:
        """Distance of lines in mm."""
        return points * float(self.tokens["type"]["line_height"]) * MM_PER_PT

    def text(
        self, kind: str, runs: str | Sequence[Run], points: float, width_mm: float,
        *, bold: bool = False, align: str = "left", ink: str = "", most_lines: int = 99,
    ) -> Block:  # fmt: skip
        """A text broken to ``width_mm``; no runs give an empty block. Raises ``Misfit``."""
        line: Line = (Run(runs, bold),) if isinstance(runs, str) else tuple(runs)
        if not any(run.text for run in line):
            return Block()
        lines = wrap(line, width_mm - SLACK_MM, points)
        if len(lines) > most_lines:
            raise Misfit(f"{line[0].text!r} takes {len(lines)} lines, has {most_lines}")
        box = Text(kind, 0, 0, width_mm, points, self.leading(points), lines, align, ink)
        return Block((box,), "", box.height_mm)

    def width(self, text: str, points: float, bold: bool = False) -> float:
        """Width of a box that holds ``text`` on one line."""
        return advance_mm(text, points, bold) + SLACK_MM if text else 0.0


def tabbed(
    desk: Desk, kind: str, header: Sequence[str], rows: Sequence[Sequence[str]], width_mm: float
) -> Block:
    """A small table in two boxes, its columns on equal tab stops; hairlines between the rows.

    The first column may span several stops. Raises ``Misfit`` when it is wider than allowed.
    """
    points, gap = desk.minor, 2.2
    count = max(len(row) for row in (header, *rows))
    widths = [
        [advance_mm(cell, points, index == 0) for cell in row]
        for index, row in enumerate((header, *rows))
    ]
    pitch = max((w for row in widths for w in row[1:]), default=0.0) + gap
    label = max(row[0] for row in widths) + gap
    while any(
        0 < abs(row[0] % pitch - pitch) < 0.5 or row[0] % pitch < 0.3 for row in widths if row[0]
    ):
        pitch += 0.2
    stops = int(-(-label // pitch))
    total = pitch * (stops + count - 1) - gap
    if total + SLACK_MM > width_mm:
        raise Misfit(f"the table {header!r} is {total:.1f} mm wide, has {width_mm:.1f} mm")
    lead = desk.leading(points) * 1.03

    def line(cells: Sequence[str], width: float, bold: bool) -> Line:
        tabs = "\t" * (stops - int(width // pitch))
        return (Run(cells[0] + tabs + "\t".join(cells[1:]), bold),)

    head = Text(
        kind, 0, 0, width_mm, points, lead, (line(header, widths[0][0], True),), tab_mm=pitch
    )
    body_lines = tuple(line(row, w[0], False) for row, w in zip(rows, widths[1:], strict=True))
    body = Text(kind, 0, lead, width_mm, points, lead, body_lines, tab_mm=pitch)
    rules = "".join(f"M0 {lead * n:.3f}h{total:.3f}" for n in range(1, len(rows) + 1))
    art = f'<path d="{rules}" stroke="{desk.colour("rule")}" stroke-width="0.2" fill="none"/>'
    return Block((head, body), art, lead * (len(rows) + 1))


# Forms that tell stations apart without colour, on a square from -1 to 1. ``StationMark.shape``.
SHAPES = {
    "disc": "M-1 0A1 1 0 1 1 1 0A1 1 0 1 1 -1 0Z",
    "square": "M-.92 -.92H.92V.92H-.92Z",
    "hexagon": "M-1.08 0L-.54 -.95H.54L1.08 0L.54 .95H-.54Z",
    "diamond": "M0 -1.2L1.2 0L0 1.2L-1.2 0Z",
    "shield": "M-.95 -.95H.95V.3L0 1.15L-.95 .3Z",
    "house": "M0 -1.2L.98 -.45V.95H-.98V-.45Z",
}


@lru_cache(maxsize=64)
def _shape_path(shape: str) -> str:
    return SHAPES.get(shape, SHAPES["disc"])


def chip(mark: StationMark, text: str, x_mm: float, y_mm: float, side_mm: float, pt: float,
         desk: Desk, kind: str = "chip") -> Block:  # fmt: skip
    """A station's shape in its accent with ``text`` in it, centred on a point."""
    half = side_mm / 2
    art = (
        f'<path transform="translate({x_mm:.3f} {y_mm:.3f}) scale({half:.3f})" '
        f'd="{_shape_path(mark.shape)}" fill="{mark.accent}"/>'
    )
    lead = desk.leading(pt)
    box = Text(kind, x_mm - half, y_mm - lead / 2, side_mm, pt, lead, ((Run(text, True),),),
               "center", mark.ink)  # fmt: skip
    if line_width_mm(box.lines[0], pt) > side_mm:
        raise Misfit(f"{text!r} is wider than its {side_mm:g} mm mark")
    return Block((box,), art, side_mm)
