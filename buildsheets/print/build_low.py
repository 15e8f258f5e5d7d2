"""A build card's options, add-ons, safety lines and cup in; its lower part, placed, out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from itertools import product
from typing import NamedTuple

from buildsheets.print.art import Shape, number
from buildsheets.print.desk import Desk, tabbed
from buildsheets.print.drawing import CupArt, cup_art, names_of
from buildsheets.print.legibility import Misfit, Run
from buildsheets.print.parts import allergen_block, caution_block, named_lines
from buildsheets.print.plan import Block, stacked, stacked_mm, together
from buildsheets.views.views import AddOnView, BuildCardView, Table

LEAST_BESIDE_MM = 45.0
LEADER_MM = 2.6  # from the cup's side to its labels
MOST_CUP_HEIGHT_MM = 62.0


Make = Callable[[float], Block]  # a block of a width in mm


def low_texts(view: BuildCardView, desk: Desk, *, last: bool) -> tuple[Make, ...]:
    """What stands beside or under the cup, from the top; each is made once for a width."""
    finish = view.finish if last else ""
    return (
        cache(lambda room: desk.text("finish", finish, desk.minor, room)),
        cache(lambda room: named_lines("keeps", desk.words("keeps"), view.keeps, room, desk)),
        cache(lambda room: allergen_block(view.allergens, room, desk)),
        cache(lambda room: caution_block(view.cautions, room, desk)),
    )


class Beside(NamedTuple):
    """The cup with its labels and the width of both, what is too wide to stand beside it, and what
    does stand beside it."""

    cup: Block
    column_mm: float
    narrow_mm: float
    above: Block
    flow: Sequence[Block]


def beside_cup(
    view: BuildCardView, width: float, cup_mm: float, desk: Desk, *, last: bool
) -> Beside:
    """The cup drawn ``cup_mm`` wide, with options and add-ons. Raises ``Misfit``."""
    gap = desk.space("gap")
    cup, column = _cup(view, cup_mm, desk)
    narrow = width - column - gap
    if narrow < LEAST_BESIDE_MM:
        raise Misfit(f"beside the labelled cup {narrow:.0f} mm are left, need {LEAST_BESIDE_MM:g}")
    wide: list[Block] = []
    flow: list[Block] = []
    if last and view.options:
        table, fits_beside = _options(view.options, narrow, width, desk)
        (flow if fits_beside else wide).append(table)
    if last and view.add_ons:
        flow.append(_add_ons(view.add_ons, narrow, desk))
    return Beside(cup, column, narrow, stacked(wide, gap), flow)


def plan_low(
    side: Beside, texts: Sequence[Make], width: float, over: float, code_side: float, gap: float
) -> tuple[Block, Block]:
    """Options, add-ons and ``texts`` (:func:`low_texts`) as one block, and the cup beside them as
    another.

    ``over`` is how far the QR code reaches up into the lower right corner. As many of the texts
    stand beside the cup, and not under it, as makes the whole shortest.
    """
    cup, above = side.cup, side.above
    top = above.height_mm + (gap if above.height_mm else 0)

    def arranged(beside: int) -> _Arranged:
        """The first ``beside`` texts stand beside the cup, the others under it."""
        flow = [*side.flow, *(make(side.narrow_mm) for make in texts[:beside])]
        below = _clear_of_code(texts[beside:], width, over, code_side, gap)
        below_mm = stacked_mm(below, gap * 0.7)
        under = below_mm + gap * 0.7 if below_mm else 0.0
        under_cup = max(0.0, over - under)
        tall = max(stacked_mm(flow, gap * 0.7), cup.height_mm + under_cup)
        return _Arranged(flow, below, tall, under_cup, top + tall + under)

    # Heights alone are compared; only what is chosen is put in place.
    best = min(map(arranged, range(len(texts), -1, -1)), key=lambda low: low.height_mm)
    flow, below = stacked(best.flow, gap * 0.7), stacked(best.below, gap * 0.7)
    placed = (above, flow.moved(0, top), below.moved(0, top + best.tall_mm + gap * 0.7))
    cup_y = top + (best.tall_mm - best.under_cup_mm - cup.height_mm) / 2
    return together(placed, best.height_mm), cup.moved(width - side.column_mm, cup_y)


class _Arranged(NamedTuple):
    """Blocks beside and under the cup; heights of the part beside it, of what the code takes from
    the room under it, and of all."""

    flow: Sequence[Block]
    below: Sequence[Block]
    tall_mm: float
    under_cup_mm: float
    height_mm: float


def _clear_of_code(
    makes: Sequence[Make], width: float, over: float, code_side: float, gap: float
) -> list[Block]:
    """Blocks under the cup; those the QR code reaches beside are narrower."""
    made: list[Block] = []
    used = 0.0
    for make in reversed(makes):
        block = make(width - code_side if used < over else width)
        used += block.height_mm + gap * 0.7 if block.height_mm else 0.0
        made.insert(0, block)
    return made


def _options(table: Table, narrow: float, width: float, desk: Desk) -> tuple[Block, bool]:
    """The table with its title and note, and whether it stands beside the cup.

    Row names stand before their values; only where even the whole width is too little, over them.
    """
    if not table.rows:
        heading = f"{table.title}: " if table.title else ""
        runs = (Run(heading, True), Run(table.note))
        return desk.text("note", runs, desk.minor, narrow), True
    if len(table.rows) == 1 and not table.header[0]:
        # One name that finds no room before its values is part of the title.
        name, *values = table.rows[0]
        for one_row in (
            table,
            replace(table, title=f"{table.title} · {name}", rows=(("", *values),)),
        ):
            try:
                return _grid(one_row, narrow, width, desk, (False,))
            except Misfit:
                continue
    return _grid(table, narrow, width, desk, (False, True))


def _grid(
    table: Table, narrow: float, width: float, desk: Desk, ways: Sequence[bool]
) -> tuple[Block, bool]:
    """The table set in the first of ``ways`` (names above or not) and widths that holds it."""
    reason = Misfit("no room for the options")
    for names_above, room in product(ways, (narrow, width)):
        for titled in (True, False) if not table.header[0] and not names_above else (False,):
            header = (table.title, *table.header[1:]) if titled else table.header
            try:
                grid = tabbed(
                    desk, "table", header, table.rows, room, label_above=names_above, strong=True
                )
            except Misfit as misfit:
                reason = misfit
                continue
            title = "" if titled else table.title
            heading_block = desk.text("heading", title, desk.minor, room, bold=True)
            note = desk.text("note", table.note, desk.minor, room)
            return stacked([heading_block, grid, note], 0.3), room == narrow
    raise reason


def _add_ons(add_ons: tuple[AddOnView, ...], width: float, desk: Desk) -> Block:
    """Add-ons under the place where they go in, each with what is left out and its allergens."""
    lines: list[Block] = []
    places = dict.fromkeys(add_on.place for add_on in add_ons)
    for place in places:
        heading = (Run(desk.words("add_ons"), True), Run(f"· {place}" if place else ""))
        lines.append(desk.text("heading", heading, desk.minor, width))
        here = (add_on for add_on in add_ons if add_on.place == place)
        lines += [_add_on(add_on, width, desk) for add_on in here]
    return stacked(lines, 0.3)


def _add_on(add_on: AddOnView, width: float, desk: Desk) -> Block:
    """What to do in bold, what it contains after it."""
    if not add_on.fits:
        verdict = desk.words("does_not_fit") + (f": {add_on.verdict}" if add_on.verdict else "")
        return desk.text("add-on", f"{add_on.name}: {verdict}", desk.minor, width, bold=True)
    out = desk.words("hold_back", amount=add_on.hold_back) if add_on.hold_back else ""
    does = ", ".join(part for part in (add_on.amount, out, add_on.line) if part)
    stop = "." if add_on.allergens else ""
    runs = (Run(f"{add_on.name}: {does}{stop}", True), Run(_sentence(add_on.allergens)))
    return desk.text("add-on", runs, desk.minor, width)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _cup(view: BuildCardView, cup_mm: float, desk: Desk) -> tuple[Block, float]:
    """The cup with its names and lines, and the width it takes with them."""
    pitch = desk.leading(desk.minor) * 0.95
    names = names_of(view.drawing)
    drink_width = desk.width(names.inside.name, desk.minor) if names.inside else 0.0
    try:
        art = cup_art(
            view.drawing, cup_mm, MOST_CUP_HEIGHT_MM, desk.colour("ink"), pitch, drink_width
        )
    except ValueError as crowded:
        raise Misfit(f"labels of the cup drawing: {crowded}") from None
    lead = desk.leading(desk.minor)
    labels_width = max(
        (desk.width(label.text, desk.minor, label.bold) for label in art.labels), default=0.0
    )
    column = art.width_mm + (LEADER_MM + labels_width if labels_width else 0.0)
    above, below = (
        _named(name, art.middle_mm, column, desk) for name in (names.above, names.below)
    )
    top = above.height_mm
    blocks = [
        above,
        Block((), tuple(shape.moved(0, top) for shape in art.shapes)),
        *_labels(art, top, column, desk),
        below.moved(0, top + art.height_mm),
    ]
    if art.inside:
        at = art.inside
        name = desk.text(
            "cup-label", at.text, desk.minor, drink_width, align="center", most_lines=1
        )
        blocks.append(name.moved(at.target_x_mm - drink_width / 2, top + at.target_y_mm - lead / 2))
    return together(blocks, top + art.height_mm + below.height_mm), column


def _named(name: str, middle: float, column: float, desk: Desk) -> Block:
    """A name centred on the cup, kept within the column; wrapped if it is wider than that."""
    if not name:
        return Block()
    wide = min(desk.width(name, desk.minor) + 0.2, column)
    text = desk.text("cup-label", name, desk.minor, wide, align="center")
    return text.moved(min(max(0.0, middle - wide / 2), column - wide), 0)


def _labels(art: CupArt, top: float, column: float, desk: Desk) -> list[Block]:
    """The labels at the cup's right, with the lines that lead to them."""
    x0 = art.width_mm + LEADER_MM
    labels: list[Block] = []
    for label in art.labels:
        text = desk.text(
            "cup-label", label.text, desk.minor, column - x0, bold=label.bold, most_lines=1
        )
        labels.append(text.moved(x0, top + label.label_y_mm - desk.leading(desk.minor) / 2))
        x, y = label.target_x_mm, label.target_y_mm
        slant = f"l{number(art.width_mm + 0.4 - x)} {number(label.label_y_mm - y)}h1.6"
        labels.append(Block((), (Shape(desk.pen(0.25), x, top + y, slant, 2),)))
    return labels
