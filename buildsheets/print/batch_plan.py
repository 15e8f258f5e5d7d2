"""A batch card's view and a type size in; the placed card, or the reason it does not fit, out."""

from __future__ import annotations

from buildsheets.print import parts
from buildsheets.print.desk import Desk, tabbed
from buildsheets.print.flow import Piece, flowed, head_block, heading_block
from buildsheets.print.legibility import Misfit, Run
from buildsheets.print.plan import Block, Plan, stacked, together
from buildsheets.views.paper import Stock
from buildsheets.views.prep_views import BatchCardView, PartView, PrepStepView
from buildsheets.views.views import StepView, Table

_GAP_MM = 3.0


def plan_batch(
    view: BatchCardView, stock: Stock, desk: Desk, arcmin: float, count: int
) -> tuple[Plan, ...]:
    """Lay a batch out on ``count`` cards: what to weigh, the steps, what it gives. Raises
    ``Misfit``."""
    width = stock.width_mm - 2 * desk.space("margin")
    gap = desk.space("gap")
    words = desk.words
    amounts = [_as_step(part) for part in view.parts]
    right = max((parts.amount_width(step, desk) for step in amounts), default=0.0)
    pieces = [Piece(heading_block(words("prep_parts"), width, desk), gap, heading=True)]
    pieces += [Piece(_part(step, right, width, desk), 0.9) for step in amounts]
    if view.steps:
        pieces.append(Piece(heading_block(words("prep_steps"), width, desk), gap, heading=True))
        pieces += [Piece(_step(step, width, desk), 0.9) for step in view.steps]
    pieces += [Piece(block, gap) for block in _figures(view, width, desk)]

    def low(room: float) -> Block:
        return stacked(
            [
                parts.allergen_block(view.allergens, room, desk),
                desk.text("paths", "; ".join(view.paths), desk.minor, room),
                parts.caution_block(view.cautions, room, desk),
            ],
            0.8,
        )

    def head(part: int) -> Block:
        scale = f"{view.scale} {view.factor}".strip()
        kind = words("prep_batch_card")
        return head_block(view.title, kind, width, part, count, desk, tag=scale)

    return flowed(view, pieces, head, low, stock, desk, arcmin, count)


def _as_step(part: PartView) -> StepView:
    return StepView(0, part.amount, part.unit, part.what, "", "", part.note, "", "liquid")


def _part(step: StepView, right: float, width: float, desk: Desk) -> Block:
    what = parts.what_block(step, desk, width - right - _GAP_MM, names_vessel=False)
    amount = parts.amount_block(step, desk, right)
    height = max(what.height_mm, amount.height_mm)
    return together(
        [
            amount.moved(0, (height - amount.height_mm) / 2),
            what.moved(right + _GAP_MM, (height - what.height_mm) / 2),
        ],
        height,
    )


def _step(step: PrepStepView, width: float, desk: Desk) -> Block:
    size = desk.sized("what")
    indent = desk.width("10", size, True) + 1.4
    number = desk.text("number", str(step.number), size, indent, bold=True)
    runs = [Run(step.what, points=size)]
    if step.setting:
        runs.append(Run(step.setting, True, size))
    what = desk.text("what", runs, size, width - indent)
    return together([number, what.moved(indent, 0)], max(number.height_mm, what.height_mm))


def _figures(view: BatchCardView, width: float, desk: Desk) -> list[Block]:
    words = desk.words
    gives = desk.text(
        "gives",
        (
            Run(f"{words('prep_gives')} ", points=desk.body),
            Run(view.gives, True, desk.sized("what")),
        ),
        desk.sized("what"),
        width,
    )
    lines = [
        gives,
        desk.text("figures", " · ".join(view.figures), desk.minor, width),
        parts.named_lines("keeps", words("prep_equipment"), view.equipment, width, desk),
        parts.named_lines("keeps", words("prep_keeping"), (" ".join(view.keeps),), width, desk),
    ]
    return [stacked(lines, 0.5), *_tables((view.portions, view.scaling), width, desk)]


def _tables(tables: tuple[Table | None, ...], width: float, desk: Desk) -> list[Block]:
    blocks = []
    for table in tables:
        if table is not None:
            heading = desk.text("heading", table.title, desk.minor, width, bold=True)
            body = tabbed(desk, "table", table.header, table.rows, width)
            blocks.append(stacked([heading, body], 0.4))
    return _beside(blocks, tables, width, desk)


def _beside(
    blocks: list[Block], tables: tuple[Table | None, ...], width: float, desk: Desk
) -> list[Block]:
    """Two tables next to each other where half the width is enough for each."""
    both = [table for table in tables if table is not None]
    if len(both) != 2:
        return blocks
    half = (width - 4.0) / 2
    try:
        narrow = [
            stacked(
                [
                    desk.text("heading", table.title, desk.minor, half, bold=True),
                    tabbed(desk, "table", table.header, table.rows, half),
                ],
                0.4,
            )
            for table in both
        ]
    except Misfit:
        return blocks
    height = max(block.height_mm for block in narrow)
    return [together([narrow[0], narrow[1].moved(half + 4.0, 0)], height)]
