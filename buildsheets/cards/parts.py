"""Views in; the blocks every kind of card shares out: gauge, foot, allergens, steps, cautions."""

from __future__ import annotations

from collections.abc import Sequence

from buildsheets.cards.art import Pen, Shape, box, polygon
from buildsheets.cards.desk import SLACK_MM, Desk, chip
from buildsheets.cards.gauge import (
    LEADER_MM,
    PROOF_BAR_MM,
    TICK_MM,
    gauge_shapes,
    place_marks,
    proof_bar,
)
from buildsheets.cards.legibility import Misfit, Run, line_width_mm
from buildsheets.cards.plan import Block, Picture, Text, stacked, together
from buildsheets.cards.qr import qr_code
from buildsheets.cards.views import Allergens, Foot, GaugeLine, StationMark, StepView


def gauge_strip(
    lines: Sequence[GaugeLine], floor_mm: float, card_height_mm: float, desk: Desk
) -> tuple[Block, float]:
    """The edge gauge with its labels, and the width of the strip it takes (margin if empty)."""
    if not lines:
        return Block(), desk.space("margin")
    pitch = desk.leading(desk.minor)
    marks = place_marks(
        lines, card_height_mm, pitch,
        pouch_border_mm=desk.pouch_border_mm,
        low_mm=desk.space("margin") + pitch / 2,
        high_mm=card_height_mm - desk.space("margin") - pitch / 2,
    )  # fmt: skip
    ink = desk.colour("ink")
    x = TICK_MM + LEADER_MM + 0.6
    wide = max(desk.width(m.line.label, desk.minor, m.line.kind == "line") for m in marks)
    texts: list[Text] = []
    for mark in marks:
        label = desk.text(
            "gauge", mark.line.label, desk.minor, wide + 0.2,
            bold=mark.line.kind == "line", most_lines=1,
        )  # fmt: skip
        texts += label.moved(x, mark.label_y_mm - pitch / 2).texts
    shapes = gauge_shapes(
        marks, floor_mm, card_height_mm, ink, pouch_border_mm=desk.pouch_border_mm
    )
    return Block(tuple(texts), shapes, card_height_mm), x + wide + 2.4


def foot_block(foot: Foot, width_mm: float, desk: Desk) -> tuple[Block, Picture | None]:
    """Proof bar, printed identity and, at the right and reaching up, the QR code.

    The block's height is that of its texts; the code's place may start above it (negative y).
    Raises ``PayloadTooLong``.
    """
    code = qr_code(foot.qr_payload, desk.space("qr_module")) if foot.qr_payload else None
    room = width_mm - (code.side_mm + 2 if code else 0)
    beside = room - PROOF_BAR_MM - 2
    if beside < 12:
        raise Misfit(f"the 50 mm proof bar and its words need 64 mm, have {room:.1f} mm")
    identity = " · ".join(
        part for part in (foot.shop, foot.code, foot.revision, foot.edition, foot.valid) if part
    )
    proof = desk.text("foot", desk.words("proof_bar"), desk.hand, beside)
    runs = (Run(identity, True), Run("\n" + foot.local_code_note if foot.local_code_note else ""))
    texts = stacked(
        [proof.moved(PROOF_BAR_MM + 2, 0), desk.text("foot", runs, desk.hand, room)], 0.6
    )
    bar = proof_bar(0, desk.leading(desk.hand) / 2, desk.colour("ink"))
    picture = None
    if code:
        alt = desk.words("scan", code=foot.code)
        y = texts.height_mm - code.side_mm
        picture = Picture(code, width_mm - code.side_mm, y, alt)
    return Block(texts.texts, (bar,), texts.height_mm), picture


def allergen_block(allergens: Allergens, width_mm: float, desk: Desk) -> Block:
    """What the drink contains, in a heavy frame; the statement when nothing is declared."""
    pad = 1.6
    inner = width_mm - 2 * pad - 0.6
    first: tuple[Run, ...] = ()
    size = desk.minor
    if allergens.contains:
        first = (Run(f"{desk.words('contains')}: {', '.join(allergens.contains)}", True),)
        size = desk.body
    elif allergens.statement:
        first = (Run(allergens.statement, True),)
    may: tuple[Run, ...] = ()
    if allergens.may_contain:
        names = ", ".join(allergens.may_contain)
        may = (Run(f"{desk.words('may_contain')}: ", True), Run(names))
    one = (*first, Run("   ", True), *may) if first and may else ()
    if one and line_width_mm(one, size) + 2 * SLACK_MM < inner:
        rows = [desk.set(Text("allergens", 0, 0, inner, size, desk.line_height, (one,)))]
    else:
        rows = [
            desk.text("allergens", first, size, inner),
            desk.text("allergens", may, desk.minor, inner),
        ]
    if not first and not may:
        raise ValueError("a card states its allergens: contains, may contain or a statement")
    inside = stacked(rows, 0.4).moved(pad + 0.3, pad)
    height = inside.height_mm + 2 * pad
    frame = box(desk.pen(0.7), 0.35, 0.35, width_mm - 0.7, height - 0.7, 1.4)
    return Block(inside.texts, (frame,), height)


def caution_block(cautions: Sequence[str], width_mm: float, desk: Desk) -> Block:
    """Cautions, each behind a drawn warning triangle; short ones share a line."""
    side = desk.leading(desk.minor) * 0.8
    indent = side + 1.6
    placed: list[Block] = []
    x = y = tall = 0.0
    for caution in cautions:
        wide = min(desk.width(caution, desk.minor) + 0.2, width_mm - indent)
        words = desk.text("caution", caution, desk.minor, wide)
        if x and x + indent + wide > width_mm:
            x, y, tall = 0.0, y + tall + 0.3, 0.0
        placed += [Block((), _warning(desk, x, y, side)), words.moved(x + indent, y)]
        x += indent + wide + 4
        tall = max(tall, words.height_mm)
    return together(placed, y + tall)


def _warning(desk: Desk, x_mm: float, y_mm: float, side_mm: float) -> tuple[Shape, ...]:
    """A warning triangle beside the first line of a text that starts at ``y_mm``."""
    half = side_mm / 2
    x, y = x_mm + half, y_mm + desk.leading(desk.minor) / 2
    right, low = 1.1 * half, y + 0.9 * half
    stem = f"v{0.62 * half:.3f}m0 {0.2 * half:.3f}v{0.24 * half:.3f}"
    white = Pen(stroke=desk.colour("paper"), width_mm=round(0.24 * half, 3))
    return (
        polygon(Pen(fill=desk.colour("ink")), [(x, y - half), (x + right, low), (x - right, low)]),
        Shape(white, x, y - 0.33 * half, stem, 2),
    )


def named_lines(kind: str, name: str, items: Sequence[str], width_mm: float, desk: Desk) -> Block:
    """ "Name: item · item" with the name bold; empty for no items."""
    if not items:
        return Block()
    runs = (Run(f"{name}: ", True), Run(" · ".join(items)))
    return desk.text(kind, runs, desk.minor, width_mm)


def station_legend(marks: Sequence[StationMark], width_mm: float, desk: Desk) -> Block:
    """Station marks with their names on one line, wrapping when they must."""
    side = desk.leading(desk.minor) * 1.15
    texts: list[Block] = []
    x = y = 0.0
    for mark in marks:
        wide = desk.width(mark.name, desk.minor) + side + 1.4
        if x and x + wide > width_mm:
            x, y = 0.0, y + side + 0.8
        sign = chip(desk, mark, mark.letter, x + side / 2, y + side / 2, side, desk.minor)
        name = desk.text("legend", mark.name, desk.minor, wide - side, most_lines=1)
        texts += [
            sign,
            name.moved(x + side + 1.2, y + (side - desk.leading(desk.minor)) / 2),
        ]
        x += wide + 4
    return together(texts, y + side if marks else 0.0)


LEVEL_SIGN_MM = 6.0  # room for the sign before a fill line


def level_sign(desk: Desk, x_mm: float, y_mm: float) -> tuple[Shape, ...]:
    """A small cup with a heavy level, drawn before a fill line: nothing to take for a minus."""
    return (
        Shape(desk.pen(0.4), x_mm, y_mm - 2.2, "l.75 4.3h2.5l.75 -4.3"),
        Shape(desk.pen(0.9), x_mm + 0.1, y_mm - 0.5, "h3.8"),
    )


FILL_SIGN_MM = 5.2  # room for the sign before the numeral of a fill-to-line step


def amount_width(step: StepView, desk: Desk) -> float:
    """Width in mm of a step's numeral, unit and up-to-line sign; 0 for an action."""
    if not step.amount:
        return 0.0
    sign = FILL_SIGN_MM if step.kind == "line" else 0.0
    return line_width_mm(_amount_runs(step, desk), desk.body) + 2 * SLACK_MM + sign


def _amount_runs(step: StepView, desk: Desk) -> tuple[Run, ...]:
    numeral = Run(step.amount, True, desk.sized("amount"))
    return (numeral, Run(f" {step.unit}", True)) if step.unit else (numeral,)


def amount_block(step: StepView, desk: Desk, right_mm: float) -> Block:
    """Numeral and unit on one line, ending at ``right_mm``, where "what" begins.

    A fill-to-line step has an arrow up to a bar before it.
    """
    wide = line_width_mm(_amount_runs(step, desk), desk.body) + SLACK_MM
    runs = _amount_runs(step, desk)
    text = Text("amount", right_mm - wide, 0, wide, desk.body, desk.line_height, (runs,), "right")
    shapes: tuple[Shape, ...] = ()
    if step.kind == "line":
        x, y = right_mm - wide - FILL_SIGN_MM + 0.8, text.height_mm / 2 - 2.6
        arrow = "h3.6m-1.8 5.4v-4.6m-1.5 1.6l1.5 -1.6l1.5 1.6"
        shapes = (Shape(desk.pen(0.8), x, y, arrow),)
    return Block((text,), shapes, text.height_mm)


def what_block(
    step: StepView, desk: Desk, width_mm: float, *, names_vessel: bool, compact: bool = False
) -> Block:
    """What goes in, bold; under it vessel (bold), tool and note in smaller type.

    ``compact`` puts all on one line where that fits.
    """
    vessel = desk.words("in_vessel", vessel=step.vessel) if step.vessel and names_vessel else ""
    rest = " · ".join(part for part in (step.tool, step.note) if part)
    what = Run(step.what, True, desk.sized("what"))
    if not vessel and not rest:
        return desk.text("what", (what,), desk.minor, width_mm)
    under = (Run(vessel + (" ·" if vessel and rest else ""), True), Run(rest))
    line = (what, Run(" ·"), *under)
    if compact and line_width_mm(line, desk.minor) + 3 * SLACK_MM < width_mm:
        return desk.text("what", line, desk.minor, width_mm, most_lines=1)
    return desk.text("what", (what, Run("\n"), *under), desk.minor, width_mm)
