"""A build card's options, add-ons, safety lines and cup in; its lower part, placed, out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from buildsheets.cards import parts
from buildsheets.cards.art import Shape, number
from buildsheets.cards.desk import Desk, tabbed
from buildsheets.cards.drawing import cup_art
from buildsheets.cards.legibility import Misfit, Run
from buildsheets.cards.plan import Block, stacked, together
from buildsheets.cards.views import AddOnView, BuildCardView

CUP_LEAST_MM = 34.0
CUP_LEAST_WIDE_MM = 16.0
LEAST_BESIDE_MM = 45.0


@dataclass(frozen=True, slots=True)
class Low:
    """The lower part of a build card without its cup, and the room kept for the cup."""

    block: Block
    column_mm: float  # width of the cup's column, at the right
    cup_top_mm: float
    cup_height_mm: float
    may_grow: bool  # whether spare height above is free for the cup

    def cup(self, view: BuildCardView, width_mm: float, spare_mm: float, desk: Desk) -> Block:
        """The cup with its labels, grown into spare height. Raises ``Misfit``."""
        extra = max(0.0, spare_mm) if self.may_grow else 0.0
        cup = _cup(view, self.column_mm, self.cup_height_mm + extra, desk)
        return cup.moved(width_mm - self.column_mm, self.cup_top_mm - extra)


def plan_low(
    view: BuildCardView, width: float, over: float, code_side: float, desk: Desk, *, last: bool
) -> Low:
    """Options, add-ons, allergens and cautions, and beside them the cup.

    ``over`` is how far the QR code reaches up into the lower right corner. As many of the texts
    stand beside the cup, and not under it, as makes the whole shortest.
    """
    gap = desk.space("gap")
    share = 0.36 if view.options or view.add_ons else 0.44
    labelled = _names_width(view, desk) + 3.0 + CUP_LEAST_WIDE_MM
    cup_column = max(desk.space("cup_column"), share * width, labelled)
    narrow = width - cup_column - gap
    if narrow < LEAST_BESIDE_MM:
        raise Misfit(f"beside the labelled cup {narrow:.0f} mm are left, need {LEAST_BESIDE_MM:g}")
    wide: list[Block] = []
    column: list[Block] = []
    if last and view.options:
        table = view.options
        for room, place, stacked_up in (
            (narrow, column, False), (narrow, column, True), (width, wide, False),
            (width, wide, True),
        ):  # fmt: skip
            try:
                grid = tabbed(desk, "table", table.header, table.rows, room, label_above=stacked_up)
            except Misfit as misfit:
                reason = misfit
                continue
            title = desk.text("heading", table.title, desk.minor, room, bold=True)
            note = desk.text("note", table.note, desk.minor, room)
            place.append(stacked([title, grid, note], 0.3))
            break
        else:
            raise reason
    if last and view.add_ons:
        heading = desk.text("heading", desk.words("add_ons"), desk.minor, narrow, bold=True)
        lines = [_add_on(add_on, narrow, desk) for add_on in view.add_ons]
        column.append(stacked([heading, *lines], 0.2))
    finish = view.finish if last else ""
    blocks: list[Callable[[float], Block]] = [
        lambda room: desk.text("finish", finish, desk.minor, room),
        lambda room: parts.named_lines("keeps", desk.words("keeps"), view.keeps, room, desk),
        lambda room: parts.allergen_block(view.allergens, room, desk),
        lambda room: parts.caution_block(view.cautions, room, desk),
    ]

    above = stacked(wide, gap)
    top = above.height_mm + (gap if above.height_mm else 0)

    def arranged(beside: int) -> Low:
        """The first ``beside`` blocks stand beside the cup, the others under it."""
        flow = stacked([*column, *(make(narrow) for make in blocks[:beside])], gap * 0.7)
        clear = width - (code_side if over > 0 else 0.0)
        below = stacked([make(clear) for make in blocks[beside:]], gap * 0.7)
        under = below.height_mm + gap * 0.7 if below.height_mm else 0.0
        under_cup = max(0.0, over - under)
        tall = max(flow.height_mm, CUP_LEAST_MM + under_cup)
        placed = (
            above,
            flow.moved(0, top + tall - flow.height_mm),
            below.moved(0, top + tall + gap * 0.7),
        )
        block = together(placed, top + tall + under)
        return Low(block, cup_column, top, tall - under_cup, not wide)

    choices = [arranged(beside) for beside in range(len(blocks), -1, -1)]
    return min(choices, key=lambda low: low.block.height_mm)


def _add_on(add_on: AddOnView, width: float, desk: Desk) -> Block:
    if not add_on.fits:
        verdict = desk.words("does_not_fit") + (f": {add_on.verdict}" if add_on.verdict else "")
        runs = (Run(f"{add_on.name}: ", True), Run(verdict, True))
    else:
        out = desk.words("hold_back", amount=add_on.hold_back) if add_on.hold_back else ""
        rest = [part for part in (add_on.amount, out, add_on.line, add_on.allergens) if part]
        runs = (Run(f"{add_on.name}: ", True), Run(", ".join(rest)))
    return desk.text("add-on", runs, desk.minor, width)


def _names_width(view: BuildCardView, desk: Desk) -> float:
    """Width in mm of the widest label of the cup drawing."""
    shown = [(layer.name, False) for layer in view.drawing.layers]
    shown += [(line.label, True) for line in view.drawing.lines]
    return max((desk.width(name, desk.minor, bold) for name, bold in shown), default=0.0)


def _cup(view: BuildCardView, width: float, height: float, desk: Desk) -> Block:
    pitch = desk.leading(desk.minor) * 0.95
    room = width - _names_width(view, desk) - 3.0
    try:
        art = cup_art(view.drawing, room, height, desk.colour("ink"), pitch, height)
    except ValueError as crowded:
        raise Misfit(f"labels of the cup drawing: {crowded}") from None
    label_x = art.width_mm + 2.6
    top = (height - art.height_mm) / 2
    labels: list[Block] = []
    for label in art.labels:
        text = desk.text(
            "cup-label", label.text, desk.minor, width - label_x, bold=label.bold, most_lines=1
        )
        labels.append(text.moved(label_x, label.label_y_mm - desk.leading(desk.minor) / 2))
        x, y = label.target_x_mm, label.target_y_mm
        slant = f"l{number(art.width_mm + 0.4 - x)} {number(label.label_y_mm - y)}h1.6"
        labels.append(Block((), (Shape(desk.pen(0.2), x, y, slant),)))
    return together([Block((), art.shapes), *labels], art.height_mm).moved(0, top)
