"""Views in; the blocks every kind of card shares out: gauge, foot, allergens, steps, cautions."""

from __future__ import annotations

from collections.abc import Sequence

from buildsheets.cards.fonts import MM_PER_PT
from buildsheets.cards.gauge import (
    LEADER_MM,
    PROOF_BAR_MM,
    TICK_MM,
    gauge_art,
    place_marks,
    proof_bar_art,
)
from buildsheets.cards.legibility import Misfit, Run, line_width_mm
from buildsheets.cards.plan import SLACK_MM, Block, Desk, Picture, Text, chip, stacked
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
    art = gauge_art(marks, floor_mm, card_height_mm, ink, pouch_border_mm=desk.pouch_border_mm)
    return Block(tuple(texts), art, card_height_mm), x + wide + 2.4


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
    top = max(desk.leading(desk.hand) * 0.5 + 0.8, 2.0)
    texts = stacked(
        [
            proof.moved(PROOF_BAR_MM + 2, 0),
            desk.text("foot", identity, desk.hand, room, bold=True),
            desk.text("foot", foot.local_code_note, desk.hand, room),
        ],
        0.3,
    )
    art = proof_bar_art(0, top, desk.colour("ink"))
    picture = None
    if code:
        alt = desk.words("scan", code=foot.code)
        y = texts.height_mm - code.side_mm
        picture = Picture(code, width_mm - code.side_mm, y, alt)
    return Block(texts.texts, art, texts.height_mm), picture


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
        box = Text("allergens", 0, 0, inner, size, desk.leading(size), (one,))
        rows = [Block((box,), "", box.height_mm)]
    else:
        rows = [
            desk.text("allergens", first, size, inner),
            desk.text("allergens", may, desk.minor, inner),
        ]
    if not first and not may:
        raise ValueError("a card states its allergens: contains, may contain or a statement")
    inside = stacked(rows, 0.4).moved(pad + 0.3, pad)
    height = inside.height_mm + 2 * pad
    frame = (
        f'<rect x="0.35" y="0.35" width="{width_mm - 0.7:.3f}" height="{height - 0.7:.3f}" '
        f'rx="1.4" stroke="{desk.colour("ink")}" stroke-width="0.7" fill="none"/>'
    )
    return Block(inside.texts, frame + inside.art, height)


def caution_block(cautions: Sequence[str], width_mm: float, desk: Desk) -> Block:
    """Cautions, each behind a drawn warning triangle."""
    side = desk.leading(desk.minor) * 0.8
    rows = []
    for caution in cautions:
        words = desk.text("caution", caution, desk.minor, width_mm - side - 1.6)
        words = words.moved(side + 1.6, 0)
        mid = desk.leading(desk.minor) / 2
        sign = (
            f'<g transform="translate({side / 2:.3f} {mid:.3f}) scale({side / 2:.3f})">'
            f'<path d="M0 -1L1.1 .9H-1.1Z" fill="{desk.colour("ink")}"/>'
            '<path d="M0 -.35V.3M0 .5V.72" stroke="#ffffff" stroke-width=".24"/></g>'
        )
        rows.append(Block(words.texts, sign, words.height_mm))
    return stacked(rows, 0.3)


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
        sign = chip(mark, mark.letter, x + side / 2, y + side / 2, side, desk.minor, desk)
        name = desk.text("legend", mark.name, desk.minor, wide - side, most_lines=1)
        texts += [
            sign,
            name.moved(x + side + 1.2, y + (side - desk.leading(desk.minor)) / 2),
        ]
        x += wide + 4
    return Block(
        tuple(text for block in texts for text in block.texts),
        "".join(block.art for block in texts),
        y + side if marks else 0.0,
    )


LEVEL_SIGN_MM = 5.4  # room for the sign before a fill line


def level_sign(x_mm: float, y_mm: float, ink: str) -> str:
    """A small cup with a heavy level, drawn before a fill line: nothing to take for a minus."""
    return (
        f'<g transform="translate({x_mm:.3f} {y_mm:.3f})" stroke="{ink}" fill="none">'
        '<path d="M0 -2.2L.75 2.1H3.25L4 -2.2" stroke-width="0.4"/>'
        '<path d="M.1 -.5H3.9" stroke-width="0.9"/></g>'
    )


def detail(step: StepView, names_vessel: bool, desk: Desk) -> tuple[Run, ...]:
    """Second line of a step: vessel (bold), tool and note."""
    vessel = desk.words("in_vessel", vessel=step.vessel) if step.vessel and names_vessel else ""
    rest = " · ".join(part for part in (step.tool, step.note) if part)
    between = " · " if vessel and rest else ""
    return (Run(vessel + between, True), Run(rest))


_FILL_MARK_MM = 5.0


def amount_width(step: StepView, desk: Desk) -> float:
    """Width in mm of a step's numeral, unit and up-to-line sign; 0 for an action."""
    if not step.amount:
        return 0.0
    unit = desk.width(" " + step.unit, desk.body, True) if step.unit else 0.0
    sign = _FILL_MARK_MM if step.kind == "line" else 0.0
    return desk.width(step.amount, desk.sized("amount"), True) + unit + sign


def amount_block(step: StepView, desk: Desk, right: float) -> Block:
    """Numeral and unit, ending where "what" begins; fill-to-line steps get an up-to-line sign."""
    big, body = desk.sized("amount"), desk.body
    unit = desk.width(" " + step.unit, body, True) if step.unit else 0.0
    number = desk.width(step.amount, big, True)
    lead = desk.leading(big)
    texts = desk.text(
        "amount", step.amount, big, number + 0.2, bold=True, align="right"
    ).moved(right - unit - number - 0.2, 0).texts  # fmt: skip
    if step.unit:
        # Same baseline: a box's baseline lies half its leading + 0.33 em below its top.
        drop = (lead - desk.leading(body)) / 2 + 0.33 * (big - body) * MM_PER_PT
        unit_block = desk.text("unit", step.unit, body, unit + 0.2, bold=True, align="right")
        texts += unit_block.moved(right - unit - 0.2, drop).texts
    art = ""
    if step.kind == "line":
        x = right - unit - number - _FILL_MARK_MM + 0.6
        mid = lead / 2
        art = (
            f'<path d="M{x:.3f} {mid - 2.6:.3f}h3.6M{x + 1.8:.3f} {mid + 2.8:.3f}v-4.6'
            f'm-1.5 1.6l1.5 -1.6l1.5 1.6" stroke="{desk.colour("ink")}" stroke-width="0.8" '
            'fill="none"/>'
        )
    return Block(texts, art, lead)
