"""An allergen matrix's view and a type size in; the placed wall sheets out."""

from __future__ import annotations

from buildsheets.print.art import Pen, Shape, box, dot, number
from buildsheets.print.desk import Desk
from buildsheets.print.flow import Piece, flowed, head_block
from buildsheets.print.legibility import Misfit
from buildsheets.print.plan import Block, Plan, Text, stacked, together
from buildsheets.views.paper import Stock
from buildsheets.views.prep_views import AllergenMatrixView, MatrixRow

NAME_SHARE = 0.24
NAME_MOST_MM = 70.0
COLUMN_LEAST_MM = 7.0
MARK_SIDE = 1.25  # of a mark, as a multiple of the letter's line
_ROW_PAD_MM = 0.9


def plan_matrix(
    view: AllergenMatrixView, stock: Stock, desk: Desk, arcmin: float, count: int
) -> tuple[Plan, ...]:
    """Lay the matrix out on ``count`` sheets; every sheet repeats the allergens' names.

    Raises ``Misfit``.
    """
    width = stock.width_mm - 2 * desk.space("margin")
    name = min(NAME_MOST_MM, width * NAME_SHARE)
    column = (width - name) / max(1, len(view.allergens))
    if column < COLUMN_LEAST_MM:
        raise Misfit(f"{len(view.allergens)} allergens leave {column:.1f} mm a column")
    header = _header(view, name, column, desk)
    pieces = [Piece(header, 0.0, heading=True)]
    group = ""
    for index, row in enumerate(view.rows):
        if row.group != group:
            group = row.group
            title = desk.text("section", group, desk.body, width, bold=True)
            pieces.append(Piece(title, 1.2, heading=True, again=header))
        pieces.append(Piece(_row(view, row, name, column, index % 2 == 1, desk), 0.0, again=header))

    def low(room: float) -> Block:
        notes = [desk.text("note", note, desk.minor, room) for note in view.notes]
        return stacked([_legend(view, room, desk), *notes], 0.6)

    def head(part: int) -> Block:
        return head_block(view.title, "", width, part, count, desk)

    return flowed(view, pieces, head, low, stock, desk, arcmin, count)


def _header(view: AllergenMatrixView, name: float, column: float, desk: Desk) -> Block:
    """Names on two levels, so that each has the width of two columns, with a line to its own."""
    size, lead = desk.minor, desk.leading(desk.minor)
    room = 2 * column - 1.0
    blocks: list[Block] = []
    height = 2 * lead + 1.6
    for index, allergen in enumerate(view.allergens):
        centre = name + (index + 0.5) * column
        upper = index % 2 == 0
        wide = desk.width(allergen, size, True)
        if wide > room:
            raise Misfit(f"{allergen!r} is {wide:.1f} mm wide, has {room:.1f} mm")
        left = min(max(centre - wide / 2, 0.0), name + len(view.allergens) * column - wide)
        text = desk.text("heading", allergen, size, wide, bold=True, align="center", most_lines=1)
        blocks.append(text.moved(left, 0.0 if upper else lead))
        start = lead if upper else 2 * lead
        tail = Shape(desk.pen(0.25), centre, start, f"v{number(height - start)}")
        blocks.append(Block((), (tail,), 0))
    return together(blocks, height)


def _row(
    view: AllergenMatrixView, row: MatrixRow, name: float, column: float, band: bool, desk: Desk
) -> Block:
    label = desk.text("drink", row.name, desk.body, name - 1.5, bold=True)
    side = desk.leading(desk.minor) * MARK_SIDE
    height = max(label.height_mm, side) + _ROW_PAD_MM
    width = name + column * len(row.marks)
    blocks = [label.moved(1.0, (height - label.height_mm) / 2)]
    if band:
        fill = Pen(fill=desk.colour("band"))
        blocks.append(Block((), (box(fill, 0, 0, width, height, layer=0),), 0))
    for index, mark in enumerate(row.marks):
        blocks.append(_mark(view, mark, name + (index + 0.5) * column, height / 2, side, desk))
    rule = Shape(desk.pen(0.2, "rule"), 0, height, f"h{number(width)}")
    return together([*blocks, Block((), (rule,), 0)], height)


def _mark(
    view: AllergenMatrixView, mark: str, x: float, y: float, side: float, desk: Desk
) -> Block:
    """A disc with its letter, a ring with its letter, a box with a question mark, or a dash."""
    ink = desk.colour("ink")
    if mark == "contains":
        return together(
            [
                Block((), (dot(ink, x, y, side),), 0),
                _letter(view.letters[0], x, y, side, desk, "#ffffff"),
            ],
            side,
        )
    if mark == "may-contain":
        r = side / 2 - 0.3
        ring = Shape(
            desk.pen(0.55),
            x - r,
            y,
            f"a{number(r)} {number(r)} 0 1 1 {number(2 * r)} 0"
            f"a{number(r)} {number(r)} 0 1 1 -{number(2 * r)} 0z",
        )
        letter = _letter(view.letters[1], x, y, side, desk, "")
        return together([Block((), (ring,), 0), letter], side)
    if mark == "undeclared":
        frame = box(desk.pen(0.8), x - side / 2, y - side / 2, side, side)
        return together([Block((), (frame,), 0), _letter("?", x, y, side, desk, "")], side)
    dash = Shape(desk.pen(0.4, "soft"), x - 1.0, y, "h2")
    return Block((), (dash,), side)


def _letter(letter: str, x: float, y: float, side: float, desk: Desk, ink: str) -> Block:
    size = desk.minor
    block = desk.text("mark", letter, size, side + 1.0, bold=True, align="center", ink=ink)
    text: Text = block.texts[0]
    return block.moved(x - side / 2 - 0.5, y - text.height_mm / 2)


def _legend(view: AllergenMatrixView, width: float, desk: Desk) -> Block:
    side = desk.leading(desk.minor) * MARK_SIDE
    marks = ("contains", "may-contain", "undeclared", "none-declared")
    shown = {mark for row in view.rows for mark in row.marks}
    blocks: list[Block] = []
    x = y = 0.0
    for mark, words in zip(marks, view.legend, strict=True):
        if mark not in shown and mark == "undeclared":
            continue
        wide = desk.width(words, desk.minor)
        if x and x + side + 1.2 + wide > width:
            x, y = 0.0, y + side + 0.8
        blocks.append(_mark(view, mark, x + side / 2, y + side / 2, side, desk))
        text = desk.text("legend", words, desk.minor, wide, most_lines=1)
        blocks.append(text.moved(x + side + 1.2, y + (side - text.height_mm) / 2))
        x += side + 1.2 + wide + 5.0
    return together(blocks, y + side)
