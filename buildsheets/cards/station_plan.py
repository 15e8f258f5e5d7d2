"""A station card's view and a type size in; the placed cards, or why they do not fit, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildsheets.cards import parts
from buildsheets.cards.art import Shape, number
from buildsheets.cards.desk import Desk, chip
from buildsheets.cards.legibility import Misfit, Stock
from buildsheets.cards.plan import Block, Picture, Plan, Zone, stacked, together
from buildsheets.cards.views import StationCardView, StationRow, StepView

DRINK_LEAST_MM = 26.0
WHAT_LEAST_MM = 26.0
CHECK_LEAST_MM = 24.0
MOST_STRETCH = 1.5
LEVEL_SHARE = 0.12  # of the card a level may take on one line
_GAP_MM = 3.0


@dataclass(frozen=True, slots=True)
class _Columns:
    """Left edges and widths in mm of drink, arrives, amount, what, leaves and check."""

    drink: tuple[float, float]
    arrives: tuple[float, float]
    amount: tuple[float, float]
    what: tuple[float, float]
    leaves: tuple[float, float]
    check: tuple[float, float]


def plan_station(view: StationCardView, stock: Stock, desk: Desk, arcmin: float, count: int
                 ) -> tuple[Plan, ...]:  # fmt: skip
    """Lay a station's drinks out on ``count`` cards, in order. Raises ``Misfit``."""
    rows = len(view.rows)
    if count > max(1, rows):
        raise Misfit(f"{rows} rows cannot be shared out over {count} cards")
    edges = [round(n * rows / count) for n in range(count + 1)]
    return tuple(
        _one(view, view.rows[edges[n] : edges[n + 1]], n + 1, count, stock, desk, arcmin)
        for n in range(count)
    )


def _one(
    view: StationCardView, rows: Sequence[StationRow], part: int, count: int, stock: Stock,
    desk: Desk, arcmin: float,
) -> Plan:  # fmt: skip
    margin, gap = desk.space("margin"), desk.space("gap")
    gauge, left = parts.gauge_strip(view.gauge, view.gauge_floor_mm, stock.height_mm, desk)
    width = stock.width_mm - margin - left
    bottom = stock.height_mm - margin
    if width < 90:
        raise Misfit(f"beside the gauge {width:.0f} mm are left, a station card needs 90 mm")
    head = _head(view, width, part, count, desk).moved(left, margin)
    foot, picture = parts.foot_block(view.foot, width, desk)
    foot_top = bottom - foot.height_mm
    foot = foot.moved(left, foot_top)
    # The code reaches up beside the cautions; the table ends above both.
    side, over = (picture.code.side_mm + 2, -picture.y_mm) if picture else (0.0, 0.0)
    low = parts.caution_block(view.cautions, width - side, desk)
    low_top = foot_top - max(low.height_mm + gap if low.height_mm else 0.0, over)
    low = low.moved(left, low_top)
    top = margin + head.height_mm + gap
    table = _table(view, rows, width, low_top - gap - top, desk).moved(left, top)
    zones = (
        Zone("head", head.texts, top),
        Zone("rows", table.texts, low_top),
        Zone("low", low.texts, foot_top),
        Zone("foot", foot.texts, bottom),
        Zone("gauge", gauge.texts, bottom),
    )
    shapes = together((gauge, head, table, low, foot), 0).shapes
    qr = picture and Picture(
        picture.code, picture.x_mm + left, picture.y_mm + foot_top, picture.alt
    )
    title = f"{view.station.name}, {view.cup_name}"
    return Plan(view, title, stock, arcmin, part, count, zones, shapes, desk.words("gauge"), qr)


def _head(view: StationCardView, width: float, part: int, count: int, desk: Desk) -> Block:
    side = desk.leading(desk.sized("title")) * 1.25
    points = desk.sized("title")
    mark = chip(desk, view.station, view.station.letter, side / 2, side / 2, side, points)
    part_label = desk.words("part_of", part=part, parts=count) if count > 1 else ""
    tag_width = desk.width(part_label, desk.body, True)
    x = side + 3
    name = view.station.name
    wide = desk.width(name, points, True) + 0.2
    title = desk.text("title", name, points, wide, bold=True, most_lines=1)
    used = x + wide + 4
    room = width - used - tag_width
    cup = desk.text("subtitle", view.cup_name, desk.sized("what"), room, bold=True, most_lines=1)
    blocks = [
        mark,
        title.moved(x, (side - title.height_mm) / 2),
        cup.moved(used, (side - cup.height_mm) / 2),
    ]
    if part_label:
        tag = desk.text("part", part_label, desk.body, tag_width, bold=True, align="right")
        blocks.append(tag.moved(width - tag_width, (side - tag.height_mm) / 2))
    return together(blocks, side)


def _columns(view: StationCardView, width: float, desk: Desk) -> _Columns:
    """Widths by what the cells need; what does not fit on a line is shared out in proportion."""
    what_pt, minor = desk.sized("what"), desk.minor
    words, rows = desk.words, view.rows
    adds = [step for row in rows for step in row.adds]

    def level(cells: list[str], heading: str) -> float:
        """Width of a level column: on one line if that is short, else broken once."""
        heading_width = desk.width(heading, minor, True)
        one = max(desk.width(cell, what_pt, True) for cell in cells)
        two = max(_broken_once(cell, what_pt, desk) for cell in cells)
        return max(heading_width, one if one < width * LEVEL_SHARE else two)

    amount = max((parts.amount_width(step, desk) for step in adds), default=0.0)
    arrives = level([row.arrives_at for row in rows], words("arrives_at"))
    leaves = level([row.leaves_at for row in rows], words("leaves_at")) + parts.LEVEL_SIGN_MM
    rest = width - arrives - leaves - amount - _GAP_MM * 5
    checks = [text for row in rows for text in (row.check, row.options) if text]
    needs = (
        max(DRINK_LEAST_MM, *(desk.width(row.drink, what_pt, True) for row in rows)),
        max(WHAT_LEAST_MM, *(desk.width(step.what, what_pt, True) for step in adds)),
        max(CHECK_LEAST_MM, *(desk.width(text, minor) for text in checks)) if checks else 0.0,
    )
    least = (DRINK_LEAST_MM, WHAT_LEAST_MM, CHECK_LEAST_MM if checks else 0.0)
    if rest < sum(least):
        raise Misfit(f"{rest:.0f} mm are left for drink, what and check, need {sum(least):.0f} mm")
    share = (rest - sum(least)) / max(sum(needs) - sum(least), 1e-9)
    drink, what, check = (
        low + (need - low) * share for low, need in zip(least, needs, strict=True)
    )
    x = 0.0
    places = []
    for wide in (drink, arrives, amount, what, leaves, check):
        places.append((x, wide))
        x += wide + _GAP_MM
    return _Columns(*places)


def _broken_once(text: str, points: float, desk: Desk) -> float:
    """Least width that holds a text on two lines."""
    words = text.split(" ")
    return min(
        max(desk.width(part, points, True) for part in (" ".join(words[:n]), " ".join(words[n:])))
        for n in range(len(words))
    )


def _table(
    view: StationCardView, rows: Sequence[StationRow], width: float, height: float, desk: Desk
) -> Block:
    columns = _columns(view, width, desk)
    heads = (
        (columns.drink, "drink"), (columns.arrives, "arrives_at"), (columns.amount, "add"),
        (columns.leaves, "leaves_at"), (columns.check, "check"),
    )  # fmt: skip
    header: list[Block] = []
    for (x, wide), key in heads:
        if wide:
            room = wide + columns.what[1] if key == "add" else wide
            header.append(
                desk.text("heading", desk.words(key), desk.minor, room, bold=True).moved(x, 0)
            )
    top = max(block.height_mm for block in header) + 0.8
    blocks = [_row(view, row, columns, desk) for row in rows]
    least = sum(block.height_mm for block in blocks)
    if top + least > height:
        raise Misfit(f"{len(rows)} drinks take {top + least:.0f} mm, the card has {height:.0f} mm")
    stretch = min(MOST_STRETCH, (height - top) / least) if least else 1.0
    placed = header
    rule = desk.pen(0.35)
    y = top
    for block in blocks:
        room = block.height_mm * stretch
        line = Shape(rule, 0, y, f"h{number(width)}")
        placed += [Block((), (line,)), block.moved(0, y + (room - block.height_mm) / 2)]
        y += room
    return together(placed, y)


def _row(view: StationCardView, row: StationRow, columns: _Columns, desk: Desk) -> Block:
    what_pt = desk.sized("what")
    drink = stacked(
        [
            desk.text("drink", row.drink, what_pt, columns.drink[1], bold=True),
            desk.text("row-allergens", row.allergens, desk.minor, columns.drink[1]),
        ],
        0.3,
    )
    arrives = desk.text("arrives", row.arrives_at, what_pt, columns.arrives[1], bold=True)
    leaves = desk.text(
        "leaves", row.leaves_at, what_pt, columns.leaves[1] - parts.LEVEL_SIGN_MM, bold=True
    )
    adds = stacked([_add(step, columns, desk) for step in row.adds], 1.2)
    check = Block()
    if columns.check[1]:
        lines = [
            desk.text("check", row.check, desk.minor, columns.check[1]),
            desk.text("row-options", row.options, desk.minor, columns.check[1]),
        ]
        check = stacked(lines, 0.3)
    cells = (drink, arrives, adds, leaves, check)
    height = max(cell.height_mm for cell in cells) + 2.4
    middle = height / 2
    xs = (
        columns.drink[0],
        columns.arrives[0],
        0.0,
        columns.leaves[0] + parts.LEVEL_SIGN_MM,
        columns.check[0],
    )
    placed = [cell.moved(x, middle - cell.height_mm / 2) for cell, x in zip(cells, xs, strict=True)]
    if row.leaves_at:
        placed.append(Block((), parts.level_sign(desk, columns.leaves[0], middle)))
    return together(placed, height)


def _add(step: StepView, columns: _Columns, desk: Desk) -> Block:
    what = parts.what_block(step, desk, columns.what[1], names_vessel=True)
    lead = desk.leading(desk.sized("amount"))
    height = max(what.height_mm, lead * 0.86)
    middle = height / 2
    blocks = [what.moved(columns.what[0], middle - what.height_mm / 2)]
    if step.amount:
        amount = parts.amount_block(step, desk, columns.amount[0] + columns.amount[1])
        blocks.insert(0, amount.moved(0, middle - lead / 2))
    return together(blocks, height)
