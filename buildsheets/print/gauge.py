"""Heights above the counter in; the card's 1:1 edge gauge, its marks and label places, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildsheets.print.art import Pen, Shape, number
from buildsheets.views.views import GaugeLine

# A sealed pouch edge of 3 mm stands below the trimmed card (common practice, no source).
POUCH_BORDER_MM = 3.0
PROOF_BAR_MM = 50.0
TICK_MM = 6.0  # length of a mark from the card's edge
LEADER_MM = 2.2  # room for the slanted line from a mark to its label
# Pens of the marks: fill lines are heavy, the rim is fine, all others are broken lines.
PEN_MM = {"line": 0.7, "rim": 0.35}
BROKEN_PEN_MM = 0.5


class OffCard(ValueError):
    """A gauge line lies above the top or below the bottom of the card."""


@dataclass(frozen=True, slots=True)
class PlacedMark:
    """A gauge line on the card: its mark and the middle of its label, mm down from the top."""

    line: GaugeLine
    mark_y_mm: float
    label_y_mm: float


def spread(wanted: Sequence[float], pitch: float, low: float, high: float) -> list[float]:
    """Move ascending positions as little as possible until each is ``pitch`` after the last.

    Positions that press on each other become a block centred on the mean of what they wanted,
    the least-squares answer; blocks are then held within ``low`` and ``high``. Raises
    ``ValueError`` if there is no room for all of them.
    """
    if len(wanted) > 1 and (len(wanted) - 1) * pitch > high - low + 1e-9:
        raise ValueError(f"{len(wanted)} labels of {pitch} mm do not fit in {high - low} mm")
    blocks: list[tuple[float, int]] = []  # (mean of the wanted block starts, count)
    for index, value in enumerate(wanted):
        start, count = value - index * pitch, 1
        while blocks and blocks[-1][0] >= start:
            before, many = blocks.pop()
            start = (before * many + start * count) / (many + count)
            count += many
        blocks.append((start, count))
    ceiling = high - max(0, len(wanted) - 1) * pitch
    placed: list[float] = []
    for start, count in blocks:
        held = min(max(start, low), ceiling)
        placed += [held + (len(placed) + step) * pitch for step in range(count)]
    return placed


def place_marks(
    lines: Sequence[GaugeLine],
    card_height_mm: float,
    label_pitch_mm: float,
    *,
    pouch_border_mm: float = POUCH_BORDER_MM,
    low_mm: float = 0.0,
    high_mm: float | None = None,
) -> tuple[PlacedMark, ...]:
    """Marks from the highest down; the pouch lifts the card, so its border comes off each height.

    A mark ``h`` mm above the counter lies ``card height - (h - border)`` mm below the card's
    top. Labels keep ``label_pitch_mm`` apart between ``low_mm`` and ``high_mm`` (their middles).
    Raises ``OffCard`` when a mark would miss the card.
    """
    ordered = sorted(lines, key=lambda line: -line.height_mm)
    marks = [card_height_mm - (line.height_mm - pouch_border_mm) for line in ordered]
    for line, mark in zip(ordered, marks, strict=True):
        if not 0 <= mark <= card_height_mm:
            raise OffCard(
                f"gauge line {line.label!r} is {line.height_mm:g} mm above the counter; a card "
                f"{card_height_mm:g} mm high in a pouch with a {pouch_border_mm:g} mm border "
                f"shows {pouch_border_mm:g} to {card_height_mm + pouch_border_mm:g} mm"
            )
    bottom = card_height_mm if high_mm is None else high_mm
    labels = spread(marks, label_pitch_mm, low_mm, bottom)
    return tuple(
        PlacedMark(line, mark, label)
        for line, mark, label in zip(ordered, marks, labels, strict=True)
    )


def pen_mm(line: GaugeLine) -> float:
    """How thick the mark of a gauge line is drawn."""
    return PEN_MM.get(line.kind, BROKEN_PEN_MM)


def gauge_shapes(
    marks: Sequence[PlacedMark], floor_mm: float, card_height_mm: float, ink: str,
    *, pouch_border_mm: float = POUCH_BORDER_MM,
) -> tuple[Shape, ...]:  # fmt: skip
    """The marks, their leaders, and a bar from the cup's floor to its top mark.

    Kinds differ by form, not colour: fill lines are heavy, caps, beds and the working limit are
    broken, the rim is a fine whole line.
    """
    if not marks:
        return ()
    fine = Pen(stroke=ink, width_mm=0.25)
    top = marks[0].mark_y_mm
    floor = card_height_mm - (floor_mm - pouch_border_mm)
    shapes = [Shape(Pen(stroke=ink, width_mm=1.2), 0.6, floor, f"v{number(top - floor)}")]
    for mark in marks:
        y = mark.mark_y_mm
        pen = Pen(stroke=ink, width_mm=pen_mm(mark.line))
        whole = mark.line.kind in PEN_MM
        shapes.append(Shape(pen, 0, y, f"h{TICK_MM:g}" if whole else "h1.6m.6 0h1.6m.6 0h1.6"))
        slant = number(mark.label_y_mm - y)
        shapes.append(Shape(fine, TICK_MM, y, f"l{LEADER_MM:g} {slant}"))
    return tuple(shapes)


def proof_bar(x_mm: float, y_mm: float, ink: str) -> Shape:
    """The 50 mm proof bar: a rule with end ticks, outer edge to outer edge 50 mm."""
    width = 0.3
    inner = number(PROOF_BAR_MM - width)
    d = f"v2.4m0 -1.2h{inner}m0 -1.2v2.4"
    return Shape(Pen(stroke=ink, width_mm=width), x_mm + width / 2, y_mm - 1.2, d)
