"""A station card's view and a type size in; the placed cards, or why they do not fit, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import accumulate, pairwise

from buildsheets.print import parts
from buildsheets.print.art import Shape, number
from buildsheets.print.choice_grid import ChoiceGrid, grid_for
from buildsheets.print.desk import SLACK_MM, Desk, chip
from buildsheets.print.legibility import Line, Misfit, Run, line_width_mm, unbroken
from buildsheets.print.plan import Block, Picture, Plan, Zone, stacked, together
from buildsheets.views.paper import Stock
from buildsheets.views.views import StationCardView, StationMark, StationRow, StepView

DRINK_LEAST_MM = 26.0
WHAT_LEAST_MM = 26.0
MOST_STRETCH = 1.5
MOST_GRID_LINES = 4
ARROW_MM = 5.4  # from a station's mark to the cup's level, with the arrow between them
_GAP_MM = 3.0


@dataclass(frozen=True, slots=True)
class _Columns:
    """Left edges and widths in mm of drink, arrives, amount, what, choices and leaves."""

    drink: tuple[float, float]
    arrives: tuple[float, float]
    amount: tuple[float, float]
    what: tuple[float, float]
    choices: tuple[float, float]
    leaves: tuple[float, float]


def plan_station(view: StationCardView, stock: Stock, desk: Desk, arcmin: float, count: int
                 ) -> tuple[Plan, ...]:  # fmt: skip
    """Lay a station's drinks out on ``count`` cards, in order. Raises ``Misfit``."""
    if count > max(1, len(view.rows)):
        raise Misfit(f"{len(view.rows)} rows cannot be shared out over {count} cards")
    margin, gap = desk.space("margin"), desk.space("gap")
    strip = parts.gauge_strip(view.gauge, view.gauge_floor_mm, stock.height_mm, desk)
    left = strip.width_mm
    width = stock.width_mm - margin - left
    bottom = stock.height_mm - margin
    if width < 90:
        raise Misfit(f"beside the gauge {width:.0f} mm are left, a station card needs 90 mm")
    foot, picture = parts.foot_block(view.foot, width, desk)
    foot_top = bottom - foot.height_mm
    foot = foot.moved(left, foot_top)
    # The code reaches up beside the cautions; the table ends above both.
    side, over = (picture.code.side_mm + 2, -picture.y_mm) if picture else (0.0, 0.0)
    low = parts.caution_block(view.cautions, width - side, desk)
    low_top = foot_top - max(low.height_mm + gap if low.height_mm else 0.0, over)
    low = low.moved(left, low_top)
    qr = picture and Picture(
        picture.code, picture.x_mm + left, picture.y_mm + foot_top, picture.alt
    )
    columns, rows = _rows(view, width, desk)
    heading = _heading(columns, desk)
    title = f"{view.station.name}, {view.size_name or view.cup_name}"
    plans = []
    for part, run in enumerate(_shared([row.height_mm for row in rows], count), 1):
        head = _head(view, width, part, count, desk).moved(left, margin)
        top = margin + head.height_mm + gap
        table = _table(heading, rows[run], width, low_top - gap - top, desk).moved(left, top)
        zones = (
            Zone("head", head.texts),
            Zone("rows", table.texts),
            Zone("low", low.texts),
            Zone("foot", foot.texts),
            Zone("gauge", strip.marks.texts),
            Zone("use", strip.words.texts),
        )
        shapes = together((strip.marks, head, table, low, foot), 0).shapes
        alt = desk.words("gauge")
        plans.append(Plan(view, title, stock, arcmin, part, count, zones, shapes, alt, qr))
    return tuple(plans)


def _shared(heights: Sequence[float], count: int) -> list[slice]:
    """Rows in ``count`` runs whose highest is as low as can be."""
    reach = [0.0, *accumulate(heights)]

    @cache
    def best(start: int, runs: int) -> tuple[float, tuple[int, ...]]:
        if runs == 1:
            return reach[-1] - reach[start], (len(heights),)
        ends = range(start + 1, len(heights) - runs + 2)
        tried = ((end, best(end, runs - 1)) for end in ends)
        return min((max(reach[end] - reach[start], low), (end, *cut)) for end, (low, cut) in tried)

    edges = (0, *best(0, count)[1])
    return [slice(a, b) for a, b in pairwise(edges)]


def _head(view: StationCardView, width: float, part: int, count: int, desk: Desk) -> Block:
    """Station and size, equally loud, then the cup's measures and which card of how many."""
    side = desk.leading(desk.sized("title")) * 1.25
    points = desk.sized("title")
    mark = chip(desk, view.station, view.station.letter, side / 2, side / 2, side, points)
    part_label = desk.words("part_of", part=part, parts=count) if count > 1 else ""
    tag_width = desk.width(part_label, desk.body, True)
    x = side + 4
    name = view.station.name
    wide = desk.width(name, points, True) + 0.2
    title = desk.text("title", name, points, wide, bold=True, most_lines=1)
    used = x + wide + 4
    size = view.size_name or view.cup_name
    plate, plate_width = parts.tag(desk, size, used, side / 2, points)
    used += plate_width
    if used + tag_width > width:
        raise Misfit(f"station and size take {used:.0f} mm, have {width - tag_width:.0f} mm")
    blocks = [mark, title.moved(x, (side - title.height_mm) / 2), plate.moved(plate_width, 0)]
    if view.size_name:
        room = width - used - 4 - tag_width
        cup = desk.text("subtitle", view.cup_name, desk.body, room, most_lines=1)
        blocks.append(cup.moved(used + 4, (side - cup.height_mm) / 2))
    if part_label:
        tag = desk.text("part", part_label, desk.body, tag_width, bold=True, align="right")
        blocks.append(tag.moved(width - tag_width, (side - tag.height_mm) / 2))
    return together(blocks, side)


def _columns(
    view: StationCardView, width: float, grid: ChoiceGrid, desk: Desk
) -> _Columns:  # fmt: skip
    """Widths by what the cells need; what does not fit on a line is shared out in proportion."""
    what_pt, minor = desk.sized("what"), desk.minor
    words, rows = desk.words, view.rows
    adds = [step for row in rows for step in row.adds]

    def level(cells: Sequence[str], heading: str, route: bool) -> float:
        """Width of a level column, each level on two lines, and each vessel's where it has two."""
        text = max(_broken_once(part, desk) for cell in cells for part in cell.split(" + "))
        mark = _mark_mm(desk) + ARROW_MM if route else 0.0
        return max(desk.width(heading, minor, True), text + mark)

    names = [row.drink.partition(" · ")[0] for row in rows]
    amount = max((parts.amount_width(step, desk) for step in adds), default=0.0)
    comes = any(row.comes_from for row in rows)
    goes = any(row.goes_to for row in rows)
    arrives = level([row.arrives_at for row in rows], words("arrives_at"), comes)
    ends = [row.leaves_at for row in rows] + ([words("done")] if comes or goes else [])
    leaves = level(ends, words("leaves_at"), goes)
    rest = width - arrives - leaves - amount - grid.width_mm - _GAP_MM * 5
    needs = (
        max(DRINK_LEAST_MM, *(desk.width(name, what_pt, True) for name in names)),
        max(WHAT_LEAST_MM, *(desk.width(step.what, what_pt, True) for step in adds)),
    )
    least = (DRINK_LEAST_MM, WHAT_LEAST_MM)
    if rest < sum(least):
        raise Misfit(f"{rest:.0f} mm are left for drink and what, need {sum(least):.0f} mm")
    share = (rest - sum(least)) / max(sum(needs) - sum(least), 1e-9)
    drink, what = (low + (need - low) * share for low, need in zip(least, needs, strict=True))
    x = 0.0
    places = []
    for wide in (drink, arrives, amount, what, grid.width_mm, leaves):
        places.append((x, wide))
        x += wide + _GAP_MM
    return _Columns(*places)


def _level_runs(text: str, desk: Desk) -> Line:
    """A cup's state: its levels large and bold, the words around them small."""
    large = desk.sized("what")
    pieces = unbroken(text)
    return tuple(
        Run(piece, True, large) if any(char.isdigit() for char in piece) else Run(piece)
        for piece in pieces
    )


def _broken_once(text: str, desk: Desk) -> float:
    """Least width that holds a cup's state on two lines."""
    runs = _level_runs(text, desk)
    space = desk.width(" ", desk.minor)
    wide = [line_width_mm((run,), desk.minor) + space for run in runs]
    cuts = [max(sum(wide[:n]), sum(wide[n:])) for n in range(len(wide))]
    return min(cuts, default=0.0) + SLACK_MM


def _rows(view: StationCardView, width: float, desk: Desk) -> tuple[_Columns, list[Block]]:
    """Every row, as low as the choices' grid can make them all."""
    reason = Misfit("no rows")
    found: list[tuple[_Columns, list[Block]]] = []
    for lines in range(1, MOST_GRID_LINES + 1):
        grid = grid_for(view.rows, lines, desk)
        try:
            columns = _columns(view, width, grid, desk)
            found.append((columns, [_row(view, row, columns, grid, desk) for row in view.rows]))
        except Misfit as misfit:
            reason = misfit
        if not grid.breaks and lines > 1:
            break
    if not found:
        raise reason
    return min(found, key=lambda one: sum(block.height_mm for block in one[1]))


def _heading(columns: _Columns, desk: Desk) -> Block:
    heads = (
        (columns.drink, "drink"), (columns.arrives, "arrives_at"), (columns.amount, "add"),
        (columns.leaves, "leaves_at"),
    )  # fmt: skip
    placed: list[Block] = []
    for (x, wide), key in heads:
        room = wide + columns.what[1] if key == "add" else wide
        heading = desk.text("heading", desk.words(key), desk.minor, room, bold=True)
        placed.append(heading.moved(x, 0))
    return together(placed, max(block.height_mm for block in placed) + 0.8)


def _table(
    heading: Block, blocks: Sequence[Block], width: float, height: float, desk: Desk
) -> Block:
    """Heading and rows, the rows let out to use the card's height. Raises ``Misfit``."""
    top = heading.height_mm
    least = sum(block.height_mm for block in blocks)
    if top + least > height:
        raise Misfit(
            f"{len(blocks)} drinks take {top + least:.0f} mm, the card has {height:.0f} mm"
        )
    stretch = min(MOST_STRETCH, (height - top) / least) if least else 1.0
    placed = [heading]
    rule = desk.pen(0.35)
    y = top
    for block in blocks:
        room = block.height_mm * stretch
        line = Shape(rule, 0, y, f"h{number(width)}")
        placed += [Block((), (line,)), block.moved(0, y + (room - block.height_mm) / 2)]
        y += room
    return together(placed, y)


def _row(
    view: StationCardView, row: StationRow, columns: _Columns, grid: ChoiceGrid, desk: Desk,
) -> Block:  # fmt: skip
    name, _, visit = row.drink.partition(" · ")
    drink = stacked(
        [
            desk.text("drink", name, desk.sized("what"), columns.drink[1], bold=True),
            desk.text("visit", visit, desk.minor, columns.drink[1], bold=True),
            desk.text("row-allergens", row.allergens, desk.minor, columns.drink[1]),
        ],
        0.3,
    )
    arrives = _arrives(view, row, columns.arrives[1], desk)
    leaves = _leaves(view, row, columns.leaves[1], desk)
    adds = [_add(step, row, columns, grid, desk) for step in row.adds]
    room = columns.what[1] + _GAP_MM + columns.choices[1]
    notes = [row.check, row.options, *grid.sentences(row)]
    below = stacked([desk.text("check", note, desk.minor, room) for note in notes], 0.3)
    middle_cell = stacked([*adds, below.moved(columns.what[0], 0)], 0.6)
    cells = ((drink, columns.drink[0]), (arrives, columns.arrives[0]), (middle_cell, 0.0),
             (leaves, columns.leaves[0]))  # fmt: skip
    height = max(cell.height_mm for cell, _ in cells) + 1.6
    placed = [cell.moved(x, (height - cell.height_mm) / 2) for cell, x in cells]
    return together(placed, height)


def _level(text: str, width: float, desk: Desk) -> Block:
    return desk.text("level", _level_runs(text, desk), desk.minor, width)


def _mark_mm(desk: Desk) -> float:
    return desk.leading(desk.minor) * 1.25


def _arrow(desk: Desk, x_mm: float, y_mm: float) -> Block:
    """A small arrow to the right, 3.2 mm long."""
    return Block((), (Shape(desk.pen(0.45), x_mm, y_mm, "h3m-1.2 -1.2l1.2 1.2l-1.2 1.2"),))


def _mark(view: StationCardView, letter: str) -> StationMark | None:
    return next((mark for mark in view.marks if mark.letter == letter), None)


def _station(view: StationCardView, letter: str, x_mm: float, y_mm: float, desk: Desk) -> Block:
    """The mark of a station by its letter, its left edge at ``x_mm``; the bare letter if the card
    does not know the station."""
    side = _mark_mm(desk)
    mark = _mark(view, letter)
    if mark is None:
        text = desk.text("chip", letter, desk.minor, side, bold=True, align="center")
        return text.moved(x_mm, y_mm - text.height_mm / 2)
    return chip(desk, mark, letter, x_mm + side / 2, y_mm, side * 0.94, desk.minor)


def _arrives(view: StationCardView, row: StationRow, width: float, desk: Desk) -> Block:
    """The station the cup comes from, an arrow, and how it looks."""
    if not row.comes_from:
        return _level(row.arrives_at, width, desk)
    side = _mark_mm(desk)
    text = _level(row.arrives_at, width - side - ARROW_MM, desk)
    height = max(text.height_mm, side)
    middle = height / 2
    return together(
        [
            _station(view, row.comes_from, 0, middle, desk),
            _arrow(desk, side + 0.9, middle),
            text.moved(side + ARROW_MM, middle - text.height_mm / 2),
        ],
        height,
    )


def _leaves(view: StationCardView, row: StationRow, width: float, desk: Desk) -> Block:
    """How the cup looks, an arrow, and the station it goes to, at the right; or "hand over"."""
    if not row.goes_to:
        done = desk.words("done") if row.comes_from else ""
        return stacked(
            [_level(row.leaves_at, width, desk), desk.text("level", done, desk.minor, width)], 0.2
        )
    side = _mark_mm(desk)
    text = _level(row.leaves_at, width - side - ARROW_MM, desk)
    height = max(text.height_mm, side)
    middle = height / 2
    return together(
        [
            text.moved(0, middle - text.height_mm / 2),
            _arrow(desk, width - side - 4.0, middle),
            _station(view, row.goes_to, width - side, middle, desk),
        ],
        height,
    )


def _add(step: StepView, row: StationRow, columns: _Columns, grid: ChoiceGrid, desk: Desk) -> Block:
    """Numeral, what goes in, and beside it what it is for each choice."""
    cells, said = grid.beside(step, row), grid.said_of(step, row)
    if said:
        step = replace(step, note=" · ".join(part for part in (step.note, said) if part))
    free = columns.what[1] + (0.0 if cells.height_mm else _GAP_MM + columns.choices[1])
    what = parts.what_block(step, desk, free, names_vessel=True, compact=True)
    lead = parts.amount_mm(desk)
    height = max(what.height_mm, cells.height_mm, lead if step.amount else 0.0)
    middle = height / 2
    blocks = [
        what.moved(columns.what[0], middle - what.height_mm / 2),
        cells.moved(columns.choices[0], middle - cells.height_mm / 2),
    ]
    if step.amount:
        amount = parts.amount_block(step, desk, columns.amount[0] + columns.amount[1])
        blocks.insert(0, amount.moved(0, middle - lead / 2))
    return together(blocks, height)
