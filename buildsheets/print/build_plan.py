"""A build card's view and a type size in; the placed card, or the reason it does not fit, out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations, pairwise
from typing import NamedTuple, TypeVar

from buildsheets.print import parts
from buildsheets.print.art import Pen, Shape, box, number
from buildsheets.print.build_low import Beside, Make, beside_cup, low_texts, plan_low
from buildsheets.print.desk import Desk, chip
from buildsheets.print.legibility import HAND_DISTANCE_MM, Misfit, Run, size_pt
from buildsheets.print.plan import Block, Picture, Plan, Zone, stacked, together
from buildsheets.views.paper import Stock
from buildsheets.views.views import BuildCardView, StepView

WHAT_LEAST_MM = 30.0
CUP_WIDTHS_MM = (36.0, 32.0, 28.0, 24.0)  # of the drawn cup, tried in this order
LARGE_FOOT_ARCMIN = 24.0
MOST_STRETCH = 1.45  # how far steps may move apart to use a card's height


@dataclass(frozen=True, slots=True)
class _Columns:
    """Step columns in mm from the block's left: mark, right edge of amounts, what, line."""

    mark: float
    amount_right: float
    what: float
    what_width: float
    full_width: float
    line: float
    line_width: float


def plan_build(view: BuildCardView, stock: Stock, desk: Desk, arcmin: float, count: int
               ) -> tuple[Plan, ...]:  # fmt: skip
    """Lay a drink out on ``count`` cards of a stock. Raises ``Misfit``.

    Steps are shared out in order; every card carries the gauge, the allergens and the cautions,
    the last one the options and add-ons.
    """
    if count > max(1, len(view.steps)):
        raise Misfit(f"{len(view.steps)} steps cannot be shared out over {count} cards")
    for cuts in _even_cuts(len(view.steps), count):
        try:
            bounds = (0, *cuts, len(view.steps))
            return tuple(
                _one(view, view.steps[bounds[n] : bounds[n + 1]], n + 1, count, stock, desk, arcmin)
                for n in range(count)
            )
        except Misfit as misfit:
            reason = misfit
    raise reason


def _even_cuts(steps: int, count: int) -> list[tuple[int, ...]]:
    """Ways to cut the steps into ``count`` runs, the most even first."""
    cuts = combinations(range(1, steps), count - 1)

    def unevenness(cut: tuple[int, ...]) -> tuple[int, tuple[int, ...]]:
        edges = (0, *cut, steps)
        sizes = [b - a for a, b in pairwise(edges)]
        return max(sizes) - min(sizes), tuple(-c for c in cut)

    return sorted(cuts, key=unevenness)[:12]


class _Made(NamedTuple):
    """What a card has whatever the size of its foot."""

    head: Block
    columns: _Columns
    compact: Sequence[Block]  # a row a step, on one line where that fits
    low: Sequence[Make]
    beside: Callable[[float], Beside]  # of a cup's width in mm


class _TooFull(Misfit):
    """The steps have too little room."""


T = TypeVar("T")


def _widest(low_with: Callable[[float], T]) -> T:
    """What the widest cup that leaves room gives. Raises ``Misfit``.

    When even the narrowest leaves too little, those between are not tried.
    """
    widest, *between, narrowest = CUP_WIDTHS_MM
    with suppress(Misfit):
        return low_with(widest)
    try:
        low_with(narrowest)
    except _TooFull:
        raise
    except Misfit:  # its labels are crowded; a wider cup may have room for them
        pass
    reason = Misfit("no cup to draw")
    for cup_mm in (*between, narrowest):
        try:
            return low_with(cup_mm)
        except Misfit as misfit:
            reason = misfit
    raise reason


def _one(
    view: BuildCardView, steps: Sequence[StepView], part: int, count: int, stock: Stock,
    desk: Desk, arcmin: float,
) -> Plan:  # fmt: skip
    """One card; its foot is set larger than a card in hand needs where that fits too."""
    strip = parts.gauge_strip(view.gauge, view.gauge_floor_mm, stock.height_mm, desk)
    width = stock.width_mm - desk.space("margin") - strip.width_mm
    if width < 60:
        raise Misfit(f"beside the gauge {width:.0f} mm are left, a build card needs 60 mm")
    columns = _columns(view, width, desk)
    made = _Made(
        _head(view, width, part, count, desk),
        columns,
        _rows(view, steps, columns, desk, compact=True),
        low_texts(view, desk, last=part == count),
        cache(lambda cup_mm: beside_cup(view, width, cup_mm, desk, last=part == count)),
    )
    large = replace(desk, hand=size_pt(HAND_DISTANCE_MM, LARGE_FOOT_ARCMIN))
    try:
        large_strip = parts.gauge_strip(view.gauge, view.gauge_floor_mm, stock.height_mm, large)
        return _laid_out(view, steps, part, count, stock, large, arcmin, large_strip, made)
    except Misfit:
        return _laid_out(view, steps, part, count, stock, desk, arcmin, strip, made)


def _laid_out(
    view: BuildCardView, steps: Sequence[StepView], part: int, count: int, stock: Stock,
    desk: Desk, arcmin: float, strip: parts.GaugeStrip, made: _Made,
) -> Plan:  # fmt: skip
    margin, gap = desk.space("margin"), desk.space("gap")
    left = strip.width_mm
    width = stock.width_mm - margin - left
    bottom = stock.height_mm - margin

    head = made.head.moved(left, margin)
    foot, picture = parts.foot_block(view.foot, width, desk)
    foot_top = bottom - foot.height_mm
    foot = foot.moved(left, foot_top)
    over = max(0.0, -picture.y_mm - gap) if picture else 0.0
    side = picture.code.side_mm + 2 if picture else 0.0
    steps_top = margin + head.height_mm + gap

    def low_with(cup_mm: float) -> tuple[Block, Block, float, float]:
        """The lower part with a cup of a width, its top, and the room it leaves to the steps."""
        low, cup = plan_low(made.beside(cup_mm), made.low, width, over, side, gap)
        low_top = foot_top - gap - low.height_mm
        room = low_top - gap - steps_top
        least = sum([row.height_mm for row in made.compact])
        if least > room:
            raise _TooFull(f"{len(steps)} steps take {least:.0f} mm, the card has {room:.0f} mm")
        return low, cup, low_top, room

    low, cup, low_top, room = _widest(low_with)
    roomy = _rows(view, steps, made.columns, desk, compact=False)
    rows = roomy if sum(row.height_mm for row in roomy) <= room else made.compact
    block = _steps(steps, rows, width, room, desk).moved(left, steps_top)
    below, cup = low.moved(left, low_top), cup.moved(left, low_top)

    zones = (
        Zone("head", head.texts),
        Zone("steps", block.texts),
        Zone("low", below.texts),
        Zone("cup", cup.texts),
        Zone("foot", foot.texts),
        Zone("gauge", strip.marks.texts),
        Zone("use", strip.words.texts),
    )
    shapes = together((strip.marks, head, block, below, cup, foot), 0).shapes
    qr = picture and Picture(
        picture.code, picture.x_mm + left, picture.y_mm + foot_top, picture.alt
    )
    title = f"{view.title}, {view.subtitle}" if view.subtitle else view.title
    return Plan(view, title, stock, arcmin, part, count, zones, shapes, view.drawing.alt, qr)


def _head(view: BuildCardView, width: float, part: int, count: int, desk: Desk) -> Block:
    tag = Block()
    tag_width = 0.0
    if count > 1:
        label = f"{part}/{count}"
        points = desk.sized("what")
        tag_width = desk.width(label, points, True) + 4
        tag = desk.text("part", label, points, tag_width, bold=True, align="center")
        frame = box(desk.pen(0.6), 0.3, 0.3, tag_width - 0.6, tag.height_mm + 0.6, 1.2)
        tag = Block(tag.moved(0, 0.6).texts, (frame,)).moved(width - tag_width, 0)
    title = desk.text(
        "title", view.title, desk.sized("title"), width - tag_width, bold=True, most_lines=2
    )
    second = tuple(
        run
        for run in (
            Run(view.subtitle, True),
            Run(("· " if view.subtitle else "") + view.cup_name if view.cup_name else ""),
        )
        if run.text
    )
    under = desk.text("subtitle", second, desk.body, width)
    legend = parts.station_legend(view.stations, width, desk)
    rows = stacked([title, under, legend], 0.8)
    return together((rows, tag), rows.height_mm)


def _columns(view: BuildCardView, width: float, desk: Desk) -> _Columns:
    amount = max(
        (parts.amount_width(step, desk) for step in view.steps),
        default=0.0,
    )
    line = max((desk.width(step.line, desk.sized("what"), True) for step in view.steps), default=0)
    line = min(line, width * 0.32)
    mark = max(desk.width(str(step.number), desk.sized("what"), True) for step in view.steps) + 1.2
    start = mark + desk.space("chip") + 1.5
    what = start + amount + 3.2
    what_width = width - what - (line + 2 if line else 0)
    if what_width < WHAT_LEAST_MM:
        raise Misfit(
            f"{what_width:.0f} mm are left for what goes in, a step needs {WHAT_LEAST_MM:g}"
        )
    return _Columns(mark, start + amount, what, what_width, width - what, width - line, line)


def _rows(
    view: BuildCardView, steps: Sequence[StepView], columns: _Columns, desk: Desk, *, compact: bool
) -> list[Block]:
    """A row a step; compact ones are on one line where that fits."""
    rows = []
    vessel = ""
    for step in steps:
        tag = step.vessel.upper() if step.vessel != vessel else ""
        rows.append(_step(view, step, columns, tag, compact, desk))
        vessel = step.vessel
    return rows


def _steps(
    steps: Sequence[StepView], rows: Sequence[Block], width: float, height: float, desk: Desk
) -> Block:
    """Rows let out to use the height, with the band and bracket of what is done in a shaker."""
    least = sum(row.height_mm for row in rows)
    stretch = min(MOST_STRETCH, height / least) if least else 1.0
    placed: list[Block] = []
    y = 0.0
    band, rule = Pen(fill=desk.colour("band")), desk.pen(0.25, "rule")
    bracket = Pen(fill=desk.colour("ink"))
    for step, row in zip(steps, rows, strict=True):
        room = row.height_mm * stretch
        if step.vessel:
            side = box(bracket, width - 0.2, y, 1.2, room)
            placed.append(Block((), (box(band, -1, y, width + 2, room, layer=0), side)))
        if y:
            placed.append(Block((), (Shape(rule, 0, y, f"h{number(width)}"),)))
        placed.append(row.moved(0, y + (room - row.height_mm) / 2))
        y += room
    return together(placed, y)


def _step(
    view: BuildCardView, step: StepView, columns: _Columns, vessel: str, compact: bool,
    desk: Desk,
) -> Block:  # fmt: skip
    """One step, its cells centred on one line; without a fill line the words get its room.

    ``vessel`` is named on a black plate at the right: the first step of a run in the shaker.
    """
    room = columns.what_width if step.line else columns.full_width
    plate, plate_width = Block(), 0.0
    if vessel:
        plate, plate_width = parts.tag(desk, vessel, columns.what + room + 1, 0)
    what = parts.what_block(step, desk, room - plate_width, names_vessel=False, compact=compact)
    line = (
        desk.text(
            "line", step.line, desk.sized("what"), columns.line_width, bold=True, align="right"
        )
        if step.line
        else Block()
    )
    lead = parts.amount_mm(desk)
    side = desk.space("chip")
    height = max(what.height_mm, line.height_mm, lead, side) + (0.7 if compact else 1.4)
    middle = height / 2
    mark = next((m for m in view.stations if m.name == step.station), None)
    if mark is None:
        raise ValueError(
            f"step {step.number} names a station the card does not list: {step.station!r}"
        )
    points = desk.sized("what")
    figure = desk.text("number", str(step.number), points, columns.mark, bold=True)
    blocks = [
        figure.moved(0, middle - figure.height_mm / 2),
        chip(desk, mark, mark.letter, columns.mark + side / 2, middle, side, desk.body),
        plate.moved(0, middle),
    ]
    if step.amount:
        blocks.append(
            parts.amount_block(step, desk, columns.amount_right).moved(0, middle - lead / 2)
        )
    blocks.append(what.moved(columns.what, middle - what.height_mm / 2))
    if step.line:
        blocks.append(line.moved(columns.line, middle - line.height_mm / 2))
    return together(blocks, height)
