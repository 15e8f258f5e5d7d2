"""A sheet of tables, or of labels, and a type size in; the placed pages out."""

from __future__ import annotations

from collections.abc import Sequence

from buildsheets.print.art import Shape, number
from buildsheets.print.desk import Desk
from buildsheets.print.flow import Piece, flowed, head_block, heading_block, tick_box
from buildsheets.print.legibility import Misfit, Run
from buildsheets.print.plan import Block, Plan, Zone, stacked, together
from buildsheets.views.paper import Stock
from buildsheets.views.prep_views import LabelSheetView, LabelView, SheetTable, SheetView

_CELL_GAP_MM = 2.0
_LABEL_PAD_MM = 1.8
_DISCARD = 1.5  # the moment it has to be gone, as a multiple of the body size


def plan_sheet(
    view: SheetView, stock: Stock, desk: Desk, arcmin: float, count: int
) -> tuple[Plan, ...]:
    """Lay tables out over ``count`` pages; a table that goes on repeats its header.

    Raises ``Misfit``.
    """
    width = stock.width_mm - 2 * desk.space("margin")
    pieces: list[Piece] = []
    for table in view.tables:
        pieces += _table(table, width, desk)

    def low(room: float) -> Block:
        return stacked([desk.text("note", note, desk.minor, room) for note in view.notes], 0.4)

    def head(part: int) -> Block:
        return head_block(view.title, view.subtitle, width, part, count, desk)

    return flowed(view, pieces, head, low, stock, desk, arcmin, count)


def _table(table: SheetTable, width: float, desk: Desk) -> list[Piece]:
    gap = desk.space("gap")
    tick = desk.leading(desk.body) + 1.0 if table.tick else 0.0
    room = width - tick - _CELL_GAP_MM * (len(table.weights) - 1)
    total = sum(table.weights)
    widths = [room * weight / total for weight in table.weights]
    header = _cells(table.header, table, widths, tick, desk, header=True)
    pieces = []
    if table.title:
        title = heading_block(table.title, width, desk)
        pieces.append(Piece(title, 2 * gap, heading=True))
    pieces.append(Piece(header, 0.6, heading=True))
    pieces += [
        Piece(_cells(row, table, widths, tick, desk), 0.0, again=header) for row in table.rows
    ]
    if table.note:
        pieces.append(Piece(desk.text("note", table.note, desk.minor, width), 0.6))
    return pieces


def _cells(
    cells: Sequence[str],
    table: SheetTable,
    widths: Sequence[float],
    tick: float,
    desk: Desk,
    *,
    header: bool = False,
) -> Block:
    size = desk.minor
    blocks: list[Block] = []
    x = tick
    for index, (cell, wide) in enumerate(zip(cells, widths, strict=True)):
        align = "right" if table.align[index] == "r" else "left"
        bold = header or index in table.strong
        block = desk.text("heading" if header else "cell", cell, size, wide, bold=bold, align=align)
        blocks.append(block.moved(x, 0.7))
        x += wide + _CELL_GAP_MM
    height = max((block.height_mm for block in blocks), default=0.0) + 1.4
    full = x - _CELL_GAP_MM
    pen = desk.pen(0.5) if header else desk.pen(0.2, "rule")
    shapes = [Shape(pen, 0, height, f"h{number(full)}")]
    if tick and not header:
        side = tick - 2.4
        shapes.append(tick_box(desk, 0.4, (height - side) / 2, side))
    return together([*blocks, Block((), tuple(shapes), 0)], height)


def plan_labels(
    view: LabelSheetView, stock: Stock, desk: Desk, arcmin: float, count: int
) -> tuple[Plan, ...]:
    """Put each label in its place on the sheet as measured; the sheet's size never changes.

    Raises ``Misfit`` when a label's text is too much for its size.
    """
    blocks = []
    for label, (left, top) in zip(view.labels, view.places_mm, strict=True):
        block = _label(label, view.label_width_mm - 2 * _LABEL_PAD_MM, desk)
        room = view.label_height_mm - 2 * _LABEL_PAD_MM
        if block.height_mm > room:
            raise Misfit(
                f"the label {label.name!r} takes {block.height_mm:.1f} mm, has {room:.1f} mm"
            )
        blocks.append(block.moved(left + _LABEL_PAD_MM, top + _LABEL_PAD_MM))
    if count > 1 or (stock.width_mm, stock.height_mm) != (view.width_mm, view.height_mm):
        raise Misfit("labels are printed on the sheet they were measured on")
    sheet = together(blocks, 0)
    zones = (Zone("main", sheet.texts),)
    return (Plan(view, view.title, stock, arcmin, 1, 1, zones, sheet.shapes, view.title, None),)


def _label(label: LabelView, width: float, desk: Desk) -> Block:
    loud = round(desk.body * _DISCARD, 1)
    rows = [
        desk.text("what", label.name, desk.body, width, bold=True),
        desk.text("cell", label.discard, loud, width, bold=True),
        desk.text("cell", " · ".join(t for t in (label.because, label.keep) if t),
                  desk.minor, width),
        desk.text("cell", (Run(label.made),), desk.minor, width),
        desk.text("cell", label.allergens, desk.minor, width),
    ]  # fmt: skip
    return stacked(rows, 0.4)
