"""Heights above the counter in; the card's 1:1 edge gauge, its marks and label places, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildsheets.print.drawing import Pen, Shape, number, svg
from buildsheets.views.types import GaugeLine

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


class TooCrowded(ValueError):
    """Labels have no room beside each other."""


@dataclass(frozen=True, slots=True)
class PlacedMark:
    """A gauge line on the card: its mark and the middle of its label, mm down from the top."""

    line: GaugeLine
    mark_y_mm: float
    label_y_mm: float
    label_mm: float  # how high the label is


def apart(
    wanted: Sequence[float], heights: Sequence[float], low: float, high: float
) -> list[float]:
    """Middles of labels of some heights, moved as little as possible until none overlap.

    ``wanted`` ascends. Labels that press on each other become a block centred on the mean of what
    they wanted, the least-squares answer; blocks are then held within ``low`` and ``high``.
    Raises ``TooCrowded`` if there is no room for all of them.
    """
    if sum(heights) > high - low + 1e-9:
        raise TooCrowded(f"labels of {sum(heights):.0f} mm do not fit in {high - low:.0f} mm")
    before = [sum(heights[:index]) for index in range(len(heights))]
    blocks: list[tuple[float, int]] = []  # (mean of the wanted starts less what is above, count)
    for middle, height, above in zip(wanted, heights, before, strict=True):
        start, count = middle - height / 2 - above, 1
        while blocks and blocks[-1][0] >= start:
            mean, many = blocks.pop()
            start = (mean * many + start * count) / (many + count)
            count += many
        blocks.append((start, count))
    ceiling = high - sum(heights)
    starts = [min(max(start, low), ceiling) for start, count in blocks for _ in range(count)]
    return [
        start + above + height / 2
        for start, above, height in zip(starts, before, heights, strict=True)
    ]


def mark_y_mm(line: GaugeLine, card_height_mm: float, pouch_border_mm: float) -> float:
    """Where a line's mark is, down from the card's top.

    The pouch lifts the card, so its border comes off the height above the counter. Raises
    ``OffCard`` when the mark would miss the card.
    """
    y = card_height_mm - (line.height_mm - pouch_border_mm)
    if not 0 <= y <= card_height_mm:
        raise OffCard(
            f"gauge line {line.label!r} is {line.height_mm:g} mm above the counter; a card "
            f"{card_height_mm:g} mm high in a pouch with a {pouch_border_mm:g} mm border "
            f"shows {pouch_border_mm:g} to {card_height_mm + pouch_border_mm:g} mm"
        )
    return y


def place_marks(
    lines: Sequence[GaugeLine],
    heights_mm: Sequence[float],
    card_height_mm: float,
    pouch_border_mm: float,
    low_mm: float,
    high_mm: float,
) -> tuple[PlacedMark, ...]:
    """Marks from the highest down, labels of ``heights_mm`` kept apart between low and high.

    ``heights_mm`` is in the order of ``lines``. Raises ``OffCard`` and ``TooCrowded``.
    """
    ordered = sorted(zip(lines, heights_mm, strict=True), key=lambda pair: -pair[0].height_mm)
    marks = [mark_y_mm(line, card_height_mm, pouch_border_mm) for line, _ in ordered]
    labels = apart(marks, [height for _, height in ordered], low_mm, high_mm)
    return tuple(
        PlacedMark(line, mark, label, height)
        for (line, height), mark, label in zip(ordered, marks, labels, strict=True)
    )


def free_top_mm(
    marks: Sequence[PlacedMark], need_mm: float, low_mm: float, high_mm: float
) -> float | None:
    """Where, down from the card's top, so much room is free of marks and labels: above them all,
    else in the largest gap between two or below; ``None`` where there is none."""
    starts, ends = [], [low_mm]
    for mark in marks:
        half = mark.label_mm / 2
        starts.append(min(mark.mark_y_mm, mark.label_y_mm - half))
        ends.append(max(mark.mark_y_mm, mark.label_y_mm + half))
    starts.append(high_mm)
    gaps = [(start - end, end) for end, start in zip(ends, starts, strict=True)]
    room, top = gaps[0] if gaps[0][0] >= need_mm else max(gaps)
    return top if room >= need_mm else None


def pen_mm(line: GaugeLine) -> float:
    """How thick the mark of a gauge line is drawn."""
    return PEN_MM.get(line.kind, BROKEN_PEN_MM)


def gauge_picture(
    marks: Sequence[PlacedMark], floor_mm: float, card_height_mm: float, ink: str,
    pouch_border_mm: float,
) -> str:  # fmt: skip
    """The marks, their leaders, and a bar from the cup's floor to its top mark.

    Kinds differ by form, not colour: fill lines are heavy, caps, beds and the working limit are
    broken, the rim is a fine whole line.
    """
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
    return svg(shapes, TICK_MM + LEADER_MM, card_height_mm)


def proof_bar(ink: str) -> str:
    """The 50 mm proof bar: a rule with end ticks, outer edge to outer edge 50 mm."""
    width = 0.3
    inner = number(PROOF_BAR_MM - width)
    d = f"v2.4m0 -1.2h{inner}m0 -1.2v2.4"
    bar = Shape(Pen(stroke=ink, width_mm=width), width / 2, 0, d)
    return svg([bar], PROOF_BAR_MM, 2.4)
