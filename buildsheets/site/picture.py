"""A cup drawing in; the same as a picture with its names beside it, as a phone page has it, out."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from buildsheets.print.cup_drawing import INK, LEADER_MM, drawn_cup
from buildsheets.views.types import CupDrawing

WIDTH_MM, HEIGHT_MM = 36.0, 62.0  # the room the largest cup fills; a phone shows it some 5 px a mm
LETTERS_MM = 3.2
LINE_MM = 4.0
LETTER_WIDE = 0.6  # of their size, wide for any phone's own typeface, so that none is cut
LONGEST = 18  # letters on a line beside the cup


@dataclass(frozen=True, slots=True)
class Line:
    """A line of text with the middle of its letters at ``y_mm``."""

    text: str
    y_mm: float
    bold: bool


@dataclass(frozen=True, slots=True)
class Picture:
    """The drawn cup as a data address, and what stands in, beside, over and under it."""

    cup: str
    cup_wide_mm: float
    wide_mm: float
    high_mm: float
    above: str
    below: str
    alt: str
    inside: Line | None
    middle_mm: float
    beside: tuple[Line, ...]


def picture(drawing: CupDrawing) -> Picture:
    """The picture, as wide as its longest line of text asks."""

    def high_mm(text: str) -> float:
        return LINE_MM * max(1, len(_lines(text)))

    cup = drawn_cup(drawing, WIDTH_MM, HEIGHT_MM, INK, high_mm, _wide_mm)
    beside = tuple(
        Line(text, label.label_y_mm + (place - (len(lines) - 1) / 2) * LINE_MM, label.bold)
        for label in cup.labels
        for lines in [_lines(label.text)]
        for place, text in enumerate(lines)
    )
    name = cup.inside
    return Picture(
        cup.picture,
        cup.width_mm,
        round(cup.width_mm + 1 + max((_wide_mm(one.text) for one in beside), default=0.0), 1),
        cup.height_mm,
        cup.above,
        cup.below,
        drawing.alt,
        Line(name.text, name.label_y_mm, name.bold) if name else None,
        (cup.width_mm - LEADER_MM) / 2,
        beside,
    )


def _lines(text: str) -> list[str]:
    return textwrap.wrap(text, LONGEST, break_long_words=False)


def _wide_mm(text: str) -> float:
    return len(text) * LETTERS_MM * LETTER_WIDE
