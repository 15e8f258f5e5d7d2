"""A build card's view and a type size in; the placed card, or the reason it does not fit, out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from buildsheets.cards import parts
from buildsheets.cards.drawing import cup_art
from buildsheets.cards.legibility import Misfit, Run, Stock
from buildsheets.cards.plan import Block, Desk, Picture, Plan, Text, Zone, chip, stacked, tabbed
from buildsheets.cards.views import AddOnView, BuildCardView, StepView

CUP_LEAST_MM = 34.0
CUP_LEAST_WIDE_MM = 14.0
WHAT_LEAST_MM = 30.0
MOST_STRETCH = 1.45  # how far steps may move apart to use a card's height


@dataclass(frozen=True, slots=True)
class _Columns:
    """Step columns in mm from the block's left: right edge of amounts, then what, then line."""

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


def _one(
    view: BuildCardView, steps: Sequence[StepView], part: int, count: int, stock: Stock,
    desk: Desk, arcmin: float,
) -> Plan:  # fmt: skip
    margin, gap = desk.space("margin"), desk.space("gap")
    gauge, left = parts.gauge_strip(view.gauge, view.gauge_floor_mm, stock.height_mm, desk)
    width = stock.width_mm - margin - left
    bottom = stock.height_mm - margin
    if width < 60:
        raise Misfit(f"beside the gauge {width:.0f} mm are left, a build card needs 60 mm")

    head = _head(view, width, part, count, desk).moved(left, margin)
    foot, picture = parts.foot_block(view.foot, width, desk)
    foot_top = bottom - foot.height_mm
    foot = foot.moved(left, foot_top)
    over = max(0.0, -picture.y_mm - gap) if picture else 0.0
    side = picture.code.side_mm + 2 if picture else 0.0
    low, cup_labels = _low(view, width, over, side, desk, last=part == count)
    low_top = foot_top - gap - low.height_mm
    low = low.moved(left, low_top)
    cup_labels = cup_labels.moved(left, low_top)
    steps_top = margin + head.height_mm + gap
    block = _steps(view, steps, width, low_top - gap - steps_top, desk).moved(left, steps_top)

    zones = (
        Zone("head", head.texts, steps_top),
        Zone("steps", block.texts, low_top),
        Zone("low", low.texts, foot_top),
        Zone("cup", cup_labels.texts, foot_top),
        Zone("foot", foot.texts, bottom),
        Zone("gauge", gauge.texts, bottom),
    )
    art = "".join(b.art for b in (gauge, head, block, low, cup_labels, foot))
    qr = picture and Picture(
        picture.code, picture.x_mm + left, picture.y_mm + foot_top, picture.alt
    )
    title = f"{view.title}, {view.subtitle}" if view.subtitle else view.title
    return Plan(view, title, stock, arcmin, part, count, zones, art, view.drawing.alt, qr)


def _head(view: BuildCardView, width: float, part: int, count: int, desk: Desk) -> Block:
    tag = Block()
    tag_width = 0.0
    if count > 1:
        label = f"{part}/{count}"
        points = desk.sized("what")
        tag_width = desk.width(label, points, True) + 4
        tag = desk.text("part", label, points, tag_width, bold=True, align="center")
        frame = (
            f'<rect x=".3" y=".3" width="{tag_width - 0.6:.3f}" height="{tag.height_mm + 0.6:.3f}" '
            f'rx="1.2" stroke="{desk.colour("ink")}" stroke-width=".6" fill="none"/>'
        )
        tag = Block(tag.moved(0, 0.6).texts, frame, 0).moved(width - tag_width, 0)
    title = desk.text(
        "title", view.title, desk.sized("title"), width - tag_width, bold=True, most_lines=2
    )
    second = tuple(
        run
        for run in (
            Run(view.subtitle, True),
            Run(("   " if view.subtitle else "") + view.cup_name) if view.cup_name else Run(""),
        )
        if run.text
    )
    under = desk.text("subtitle", second, desk.body, width)
    legend = parts.station_legend(view.stations, width, desk)
    rows = stacked([title, under, legend], 0.8)
    return Block(rows.texts + tag.texts, rows.art + tag.art, rows.height_mm)


def _columns(view: BuildCardView, width: float, desk: Desk) -> _Columns:
    amount = max(
        (parts.amount_width(step, desk) for step in view.steps),
        default=0.0,
    )
    line = max((desk.width(step.line, desk.sized("what"), True) for step in view.steps), default=0)
    mark = parts.LEVEL_SIGN_MM if line else 0.0
    line = min(line, width * 0.32)
    start = desk.space("chip") + 1.5
    what = start + amount + 3.2
    what_width = width - what - (line + mark + 2 if line else 0)
    if what_width < WHAT_LEAST_MM:
        raise Misfit(
            f"{what_width:.0f} mm are left for what goes in, a step needs {WHAT_LEAST_MM:g}"
        )
    return _Columns(start + amount, what, what_width, width - what, width - line, line)


def _steps(
    view: BuildCardView, steps: Sequence[StepView], width: float, height: float, desk: Desk
) -> Block:
    columns = _columns(view, width, desk)
    rows = []
    vessel = ""
    for step in steps:
        rows.append(_step(view, step, columns, step.vessel != vessel, desk))
        vessel = step.vessel
    least = sum(row.height_mm for row in rows)
    if least > height:
        raise Misfit(f"{len(rows)} steps take {least:.0f} mm, the card has {height:.0f} mm")
    stretch = min(MOST_STRETCH, height / least) if least else 1.0
    texts: list[Text] = []
    art: list[str] = []
    y = 0.0
    for number, (step, row) in enumerate(zip(steps, rows, strict=True)):
        room = row.height_mm * stretch
        if step.vessel:
            art.append(
                f'<rect x="-1" y="{y:.3f}" width="{width + 2:.3f}" height="{room:.3f}" '
                f'fill="{desk.colour("band")}"/>'
            )
        if number:
            art.append(
                f'<path d="M0 {y:.3f}h{width:.3f}" stroke="{desk.colour("rule")}" '
                'stroke-width="0.25"/>'
            )
        placed = row.moved(0, y + (room - row.height_mm) / 2)
        texts += placed.texts
        art.append(placed.art)
        y += room
    return Block(tuple(texts), "".join(art), y)


def _step(
    view: BuildCardView, step: StepView, columns: _Columns, names_vessel: bool, desk: Desk
) -> Block:
    """One step, its cells centred on one line; without a fill line the words get its room."""
    room = columns.what_width if step.line else columns.full_width
    what = stacked(
        [
            desk.text("what", step.what, desk.sized("what"), room, bold=True),
            desk.text("detail", parts.detail(step, names_vessel, desk), desk.minor, room),
        ],
        0.0,
    )
    line = (
        desk.text(
            "line", step.line, desk.sized("what"), columns.line_width, bold=True, align="right"
        )
        if step.line
        else Block()
    )
    big = desk.sized("amount")
    lead = desk.leading(big)
    height = max(what.height_mm, line.height_mm, lead * 0.86, desk.space("chip")) + 1.4
    middle = height / 2
    mark = next((m for m in view.stations if m.name == step.station), None)
    if mark is None:
        raise ValueError(
            f"step {step.number} names a station the card does not list: {step.station!r}"
        )
    side = desk.space("chip")
    blocks = [chip(mark, str(step.number), side / 2, middle, side, desk.body, desk, "number")]
    if step.amount:
        blocks.append(
            parts.amount_block(step, desk, columns.amount_right).moved(0, middle - lead / 2)
        )
    blocks.append(what.moved(columns.what, middle - what.height_mm / 2))
    if step.line:
        blocks.append(line.moved(columns.line, middle - line.height_mm / 2))
        widest = max(
            desk.width("".join(run.text for run in row), desk.sized("what"), True)
            for row in line.texts[0].lines
        )
        start = columns.line + columns.line_width - widest - parts.LEVEL_SIGN_MM + 0.6
        blocks.append(Block((), parts.level_sign(start, middle, desk.colour("ink")), 0))
    return Block(
        tuple(text for block in blocks for text in block.texts),
        "".join(block.art for block in blocks),
        height,
    )


def _low(
    view: BuildCardView, width: float, over: float, code_side: float, desk: Desk, *, last: bool
) -> tuple[Block, Block]:
    """Options, add-ons, allergens and cautions, and beside them the cup.

    ``over`` is how far the QR code reaches up into the lower right corner. As many of the texts
    stand beside the cup, and not under it, as makes the whole shortest.
    """
    gap = desk.space("gap")
    narrow = width - desk.space("cup_column") - gap
    wide: list[Block] = []
    column: list[Block] = []
    if last and view.options:
        table = view.options
        title = desk.text("heading", table.title, desk.minor, narrow, bold=True)
        note = desk.text("note", table.note, desk.minor, narrow)
        for room, place in ((narrow, column), (width, wide)):
            try:
                grid = tabbed(desk, "table", table.header, table.rows, room)
            except Misfit as misfit:
                reason = misfit
                continue
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

    def arranged(beside: int) -> tuple[Block, Block]:
        """The first ``beside`` blocks stand beside the cup, the others under it."""
        flow = stacked([*column, *(make(narrow) for make in blocks[:beside])], gap * 0.7)
        above = stacked(wide, gap)
        clear = width - (code_side if over > 0 else 0.0)
        below = stacked([make(clear) for make in blocks[beside:]], gap * 0.7)
        top = above.height_mm + (gap if above.height_mm else 0)
        under_cup = max(0.0, over - below.height_mm - (gap * 0.7 if below.height_mm else 0.0))
        tall = max(flow.height_mm, CUP_LEAST_MM + under_cup)
        cup = _cup(view, desk.space("cup_column"), tall - under_cup, desk)
        left = flow.moved(0, top)
        under = below.moved(0, top + tall + gap * 0.7)
        height = top + tall + (gap * 0.7 + below.height_mm if below.height_mm else 0.0)
        texts = above.texts + left.texts + under.texts
        block = Block(texts, above.art + left.art + under.art, height)
        return block, cup.moved(width - desk.space("cup_column"), top)

    choices = [arranged(beside) for beside in range(len(blocks), -1, -1)]
    return min(choices, key=lambda pair: pair[0].height_mm)


def _add_on(add_on: AddOnView, width: float, desk: Desk) -> Block:
    if not add_on.fits:
        runs = (Run(f"{add_on.name}: ", True), Run(desk.words("does_not_fit"), True),
                Run(f" {add_on.verdict}" if add_on.verdict else ""))  # fmt: skip
    else:
        out = desk.words("hold_back", amount=add_on.hold_back) if add_on.hold_back else ""
        rest = [part for part in (add_on.amount, out, add_on.line, add_on.allergens) if part]
        runs = (Run(f"{add_on.name}: ", True), Run(", ".join(rest)), Run(""))
    return desk.text("add-on", runs, desk.minor, width)


def _cup(view: BuildCardView, width: float, height: float, desk: Desk) -> Block:
    pitch = desk.leading(desk.minor) * 0.95
    shown = [(layer.name, False) for layer in view.drawing.layers]
    shown += [(line.label, True) for line in view.drawing.lines]
    names = max((desk.width(name, desk.minor, bold) for name, bold in shown), default=0.0)
    room = width - names - 3.0
    if room < CUP_LEAST_WIDE_MM:
        raise Misfit(f"beside its labels the cup drawing has {room:.0f} mm")
    try:
        art = cup_art(view.drawing, room, height, desk.colour("ink"), pitch, height)
    except ValueError as crowded:
        raise Misfit(f"labels of the cup drawing: {crowded}") from None
    label_x = art.width_mm + 2.6
    top = (height - art.height_mm) / 2
    texts: list[Text] = []
    leaders: list[str] = []
    for label in art.labels:
        block = desk.text(
            "cup-label", label.text, desk.minor, width - label_x, bold=label.bold, most_lines=1
        )
        texts += block.moved(label_x, label.label_y_mm - desk.leading(desk.minor) / 2).texts
        leaders.append(
            f"M{label.target_x_mm:.2f} {label.target_y_mm:.2f}"
            f"L{art.width_mm + 0.4:.2f} {label.label_y_mm:.2f}H{label_x - 0.6:.2f}"
        )
    ink = desk.colour("ink")
    path = f'<path d="{"".join(leaders)}" stroke="{ink}" stroke-width=".2" fill="none"/>'
    return Block(tuple(texts), art.svg + path, art.height_mm).moved(0, top)
