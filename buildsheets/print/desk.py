"""Tokens, words and a type size in; texts, station marks and small tables set with them out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from buildsheets.print.art import Pen, Shape, dot, number, polygon
from buildsheets.print.fonts import MM_PER_PT, advance_mm
from buildsheets.print.gauge import POUCH_BORDER_MM
from buildsheets.print.legibility import (
    FLOOR_ARCMIN,
    HAND_DISTANCE_MM,
    PREFERRED_ARCMIN,
    Line,
    Misfit,
    Run,
    line_width_mm,
    size_pt,
    wrap,
)
from buildsheets.print.plan import Block, Text
from buildsheets.views.views import StationMark
from buildsheets.views.words import Words

# Kerning is left out of the sums; boxes are this much wider than the sum says.
SLACK_MM = 0.6


@dataclass(frozen=True, slots=True)
class Desk:
    """What every layout needs at hand: tokens, words, type sizes in pt, and the pouch border.

    ``body`` is the size being tried. ``minor``, for second lines, is four fifths of it but never
    under the floor, below which no working text goes. ``hand`` is for what is read with the card
    in hand.
    """

    tokens: Mapping[str, Any]
    words: Words
    body: float
    minor: float
    hand: float
    pouch_border_mm: float

    @classmethod
    def at(
        cls, tokens: Mapping[str, Any], words: Words, distance_mm: float, arcmin: float,
        pouch_border_mm: float = POUCH_BORDER_MM,
    ) -> Desk:  # fmt: skip
        """Sizes for a reading distance and the angle being tried."""
        minor = max(FLOOR_ARCMIN, arcmin * FLOOR_ARCMIN / PREFERRED_ARCMIN)
        return cls(
            tokens,
            words,
            size_pt(distance_mm, arcmin),
            size_pt(distance_mm, minor),
            size_pt(HAND_DISTANCE_MM, PREFERRED_ARCMIN),
            pouch_border_mm,
        )

    def space(self, name: str) -> float:
        """A length token in mm."""
        return float(self.tokens["space"][name])

    def colour(self, name: str) -> str:
        """A colour token."""
        return str(self.tokens["colour"][name])

    def pen(self, width_mm: float, colour: str = "ink", cap: str = "butt") -> Pen:
        """A line in a colour token."""
        return Pen(stroke=self.colour(colour), width_mm=width_mm, cap=cap)

    def sized(self, name: str) -> float:
        """Body size times a type ratio, never under the floor, to 0.1 pt."""
        return max(self.minor, round(self.body * float(self.tokens["type"][name]), 1))

    @property
    def line_height(self) -> float:
        """Distance of lines as a multiple of the type size."""
        return float(self.tokens["type"]["line_height"])

    def leading(self, points: float) -> float:
        """Distance of lines in mm."""
        return points * self.line_height * MM_PER_PT

    def width(self, text: str, points: float, bold: bool = False) -> float:
        """Width in mm of a box that holds ``text`` on one line; 0 for none."""
        return advance_mm(text, points, bold) + SLACK_MM if text else 0.0

    def text(
        self, kind: str, runs: str | Sequence[Run], points: float, width_mm: float,
        *, bold: bool = False, align: str = "left", ink: str = "", most_lines: int = 99,
    ) -> Block:  # fmt: skip
        """A text broken to ``width_mm``; no letters give an empty block. Raises ``Misfit``."""
        line: Line = (Run(runs, bold),) if isinstance(runs, str) else tuple(runs)
        if not any(run.text for run in line):
            return Block()
        lines = wrap(line, width_mm - SLACK_MM, points)
        if len(lines) > most_lines:
            raise Misfit(f"{line[0].text!r} takes {len(lines)} lines, has {most_lines}")
        return self.set(Text(kind, 0, 0, width_mm, points, self.line_height, lines, align, ink))

    def set(self, text: Text) -> Block:
        """A text as a block of its own height."""
        return Block((text,), (), text.height_mm)


def tabbed(
    desk: Desk, kind: str, header: Sequence[str], rows: Sequence[Sequence[str]], width_mm: float,
    *, label_above: bool = False, strong: bool = False,
) -> Block:  # fmt: skip
    """A small table in one box, its columns on equal tab stops; hairlines between the rows.

    ``strong`` sets the values bold and not the header.

    The first column may span several stops, or (``label_above``) stand on a line of its own over
    its row. Raises ``Misfit`` when the table is wider than allowed.
    """
    points, gap = desk.minor, 2.2
    widths = [
        [
            advance_mm(cell, points, (index == 0) != (strong and place > 0))
            for place, cell in enumerate(row)
        ]
        for index, row in enumerate((header, *rows))
    ]
    pitch = max((wide for row in widths for wide in row[1:]), default=0.0) + gap
    label = max(row[0] for row in widths) + gap
    columns = max(len(row) for row in widths) - 1
    stops = 0
    if not label_above and label > gap:
        # A label that ends on a tab stop could fall on either side of it: move the stops.
        while any(row[0] and not 0.3 < row[0] % pitch < pitch - 0.3 for row in widths):
            pitch += 0.2
        stops = int(-(-label // pitch))
    total = max(pitch * (stops + columns), label if label_above else 0.0) - gap
    if total + SLACK_MM > width_mm:
        raise Misfit(f"the table {header!r} is {total:.1f} mm wide, has {width_mm:.1f} mm")

    def lines(cells: Sequence[str], wide: float, bold: bool) -> list[Line]:
        label, values = Run(cells[0], bold), Run("\t".join(cells[1:]), bold != strong)
        if label_above:
            return [(run,) for run in (label, values) if run.text]
        lead = Run(cells[0] + "\t" * (stops - int(wide // pitch)), bold)
        if lead.bold == values.bold:
            return [(Run(lead.text + values.text, bold),)]
        return [(lead, values)]

    head = lines(header, widths[0][0], True)
    each = [lines(row, w[0], False) for row, w in zip(rows, widths[1:], strict=True)]
    loose = desk.line_height * 1.03
    ready = tuple(line for row in (head, *each) for line in row)
    text = Text(kind, 0, 0, width_mm, points, loose, ready, tab_mm=pitch)
    line_mm = desk.leading(points) * 1.03
    rule = desk.pen(0.25, "rule")
    rules: list[Shape] = []
    y = len(head) * line_mm
    for row in each:
        rules.append(Shape(rule, 0, y, f"h{number(total)}"))
        y += len(row) * line_mm
    return Block((text,), tuple(rules), y)


# Forms that tell stations apart without colour, on a square from -1 to 1; no points: a disc.
SHAPES: dict[str, tuple[tuple[float, float], ...]] = {
    "disc": (),
    "square": ((-0.92, -0.92), (0.92, -0.92), (0.92, 0.92), (-0.92, 0.92)),
    # Long and low, or it would pass for the disc in grey and from afar.
    "hexagon": ((-1.2, 0), (-0.64, -0.8), (0.64, -0.8), (1.2, 0), (0.64, 0.8), (-0.64, 0.8)),
    "diamond": ((0, -1.06), (1.06, 0), (0, 1.06), (-1.06, 0)),
    "shield": ((-0.95, -0.95), (0.95, -0.95), (0.95, 0.3), (0, 1.15), (-0.95, 0.3)),
    "house": ((0, -1.12), (0.98, -0.45), (0.98, 0.95), (-0.98, 0.95), (-0.98, -0.45)),
}


def chip(
    desk: Desk, mark: StationMark, text: str, x_mm: float, y_mm: float, side_mm: float, pt: float,
    kind: str = "chip",
) -> Block:  # fmt: skip
    """A station's shape in its accent with ``text`` in it, centred on a point."""
    half = side_mm / 2
    corners = SHAPES[mark.shape]
    if corners:
        points = [(x_mm + x * half, y_mm + y * half) for x, y in corners]
        shape = polygon(Pen(fill=mark.accent), points)
    else:
        shape = dot(mark.accent, x_mm, y_mm, side_mm)
    top = y_mm - desk.leading(pt) / 2
    line: Line = (Run(text, True),)
    if line_width_mm(line, pt) > side_mm:
        raise Misfit(f"{text!r} is wider than its {side_mm:g} mm mark")
    label = Text(kind, x_mm - half, top, side_mm, pt, desk.line_height, (line,), "center", mark.ink)
    return Block((label,), (shape,), side_mm)
