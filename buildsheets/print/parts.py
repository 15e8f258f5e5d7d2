"""Views in; the blocks every kind of card shares out: gauge, foot, allergens, steps, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildsheets.print.art import Pen, Shape, box, polygon
from buildsheets.print.desk import SLACK_MM, Desk, chip
from buildsheets.print.fonts import MM_PER_PT, main_face
from buildsheets.print.gauge import (
    LEADER_MM,
    PROOF_BAR_MM,
    TICK_MM,
    PlacedMark,
    gauge_shapes,
    place_marks,
    proof_bar,
)
from buildsheets.print.legibility import Misfit, Run, line_width_mm, unbroken
from buildsheets.print.plan import Block, Picture, Text, stacked, together
from buildsheets.print.qr import qr_code
from buildsheets.views.views import Allergens, Foot, GaugeLine, StationMark, StepView


@dataclass(frozen=True, slots=True)
class GaugeStrip:
    """The edge gauge with its labels, the words on how to use it, and the width they take."""

    marks: Block
    words: Block
    width_mm: float


def gauge_strip(
    lines: Sequence[GaugeLine], floor_mm: float, card_height_mm: float, desk: Desk
) -> GaugeStrip:
    """The edge gauge; only a margin where there is nothing to gauge. Raises ``Misfit``."""
    if not lines:
        return GaugeStrip(Block(), Block(), desk.space("margin"))
    pitch = desk.leading(desk.minor)
    marks = place_marks(
        lines, card_height_mm, pitch,
        pouch_border_mm=desk.pouch_border_mm,
        low_mm=desk.space("margin") + pitch / 2,
        high_mm=card_height_mm - desk.space("margin") - pitch / 2,
    )  # fmt: skip
    x = TICK_MM + LEADER_MM + 0.6
    labels = _gauge_labels(marks, desk)
    wide = max(label.texts[0].width_mm for label in labels)
    tops = [m.label_y_mm - la.height_mm / 2 for m, la in zip(marks, labels, strict=True)]
    placed = [label.moved(x, top) for label, top in zip(labels, tops, strict=True)]
    shapes = gauge_shapes(
        marks, floor_mm, card_height_mm, desk.colour("ink"), pouch_border_mm=desk.pouch_border_mm
    )
    width = x + wide + 1.8
    margin = desk.space("margin")
    taken = [(top, top + label.height_mm) for top, label in zip(tops, labels, strict=True)]
    taken += [(mark.mark_y_mm - 0.5, mark.mark_y_mm + 0.5) for mark in marks]
    free = _gaps(sorted(taken), margin, card_height_mm - margin)
    words = _gauge_words(free, width, desk)
    return GaugeStrip(together([*placed, Block((), shapes)], card_height_mm), words, width)


def _gauge_labels(marks: Sequence[PlacedMark], desk: Desk) -> list[Block]:
    """A label a mark; a long one that stands alone takes two lines, for a narrower strip."""
    pitch = desk.leading(desk.minor)
    found: list[Block] = []
    for mark in marks:
        strong = mark.line.kind == "line"
        alone = all(
            abs(mark.label_y_mm - other.label_y_mm) >= 2 * pitch + 0.2
            for other in marks
            if other is not mark
        )
        pieces = unbroken(mark.line.label)
        lines = [" ".join(pieces)]
        if alone and len(pieces) > 1:
            halves = [[" ".join(pieces[:n]), " ".join(pieces[n:])] for n in range(1, len(pieces))]
            lines = min(halves, key=lambda pair: max(desk.width(t, desk.minor) for t in pair))
        wide = max(desk.width(line, desk.minor, strong) for line in lines) + 0.2
        found.append(desk.text("gauge", "\n".join(lines), desk.minor, wide, bold=strong))
    return found


def _gaps(
    taken: Sequence[tuple[float, float]], low: float, high: float
) -> list[tuple[float, float]]:
    """Stretches between ``low`` and ``high`` that are not taken, the last first."""
    found: list[tuple[float, float]] = []
    at = low
    for start, end in taken:
        found.append((at, start - 1.0))
        at = max(at, end + 1.0)
    return [(a, b) for a, b in reversed([*found, (at, high)]) if b > a]


def _gauge_words(free: Sequence[tuple[float, float]], strip_mm: float, desk: Desk) -> Block:
    """How to use the edge gauge, in the lowest gap that holds the words.

    Set for the reading distance where that fits, else for the card in hand. Raises ``Misfit``.
    """
    x = TICK_MM + 1.2
    for points in (desk.minor, desk.hand):
        try:
            words = desk.text("gauge-words", desk.words("gauge"), points, strip_mm - x - 1.0)
        except Misfit:
            continue
        for start, end in free:
            if end - start >= words.height_mm:
                return words.moved(x, end - words.height_mm)
    raise Misfit("no gap between the gauge's labels holds the words on how to use it")


def foot_block(foot: Foot, width_mm: float, desk: Desk) -> tuple[Block, Picture | None]:
    """Proof bar, printed identity and, at the right and reaching up, the QR code over its caption.

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
    measures = desk.words("proof_bar")
    proof = desk.text(
        "foot", measures, desk.hand, min(beside, desk.width(measures, desk.hand) + 0.2)
    )
    runs = (Run(identity, True), Run("\n" + foot.local_code_note if foot.local_code_note else ""))
    texts = stacked(
        [proof.moved(PROOF_BAR_MM + 2, 0), desk.text("foot", runs, desk.hand, room)], 0.6
    )
    bar = proof_bar(0, desk.leading(desk.hand) / 2, desk.colour("ink"))
    picture = None
    if code:
        alt = desk.words("scan", code=foot.code)
        x = width_mm - code.side_mm
        asks = desk.words("scan_caption")
        wide = desk.width(asks, desk.hand)
        # Beside the code on the proof bar's line where it fits, else under the code.
        if PROOF_BAR_MM + 2 + desk.width(measures, desk.hand) + 4 + wide < room:
            caption = desk.text("foot", asks, desk.hand, wide + 0.2, most_lines=1)
            texts = together([texts, caption.moved(room - wide, 0)], texts.height_mm)
            below = 0.0
        else:
            caption = desk.text("foot", asks, desk.hand, code.side_mm + 1.0, align="center")
            below = caption.height_mm
            texts = together(
                [texts, caption.moved(x - 0.5, texts.height_mm - below)], texts.height_mm
            )
        picture = Picture(code, x, texts.height_mm - below - code.side_mm, alt)
    return Block(texts.texts, (bar,), texts.height_mm), picture


def allergen_block(allergens: Allergens, width_mm: float, desk: Desk) -> Block:
    """What the drink contains and may contain, and the statement if any, in a heavy frame."""
    pad = 1.6
    inner = width_mm - 2 * pad - 0.6
    statement = (Run(allergens.statement, True),) if allergens.statement else ()
    first: tuple[Run, ...] = ()
    if allergens.contains:
        first = (Run(f"{desk.words('contains')}: {', '.join(allergens.contains)}", True),)
    may: tuple[Run, ...] = ()
    if allergens.may_contain:
        names = ", ".join(allergens.may_contain)
        may = (Run(f"{desk.words('may_contain')}: ", True), Run(names))
    one = (*first, Run("   ", True), *may) if first and may else ()
    if one and line_width_mm(one, desk.body) + 2 * SLACK_MM < inner:
        rows = [desk.set(Text("allergens", 0, 0, inner, desk.body, desk.line_height, (one,)))]
    else:
        rows = [
            desk.text("allergens", first, desk.body, inner),
            desk.text("allergens", may, desk.minor, inner),
        ]
    if not first and not may and not statement:
        raise ValueError("a card states its allergens: contains, may contain or a statement")
    rows.append(desk.text("allergens", statement, desk.minor, inner))
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
    side = desk.leading(desk.minor) * 1.1
    texts: list[Block] = []
    x = y = 0.0
    for mark in marks:
        wide = desk.width(mark.name, desk.minor) + side + 1.6
        if x and x + wide > width_mm:
            x, y = 0.0, y + side + 0.8
        sign = chip(desk, mark, mark.letter, x + side / 2, y + side / 2, side, desk.minor)
        name = desk.text("legend", mark.name, desk.minor, wide - side, most_lines=1)
        texts += [
            sign,
            name.moved(x + side + 1.5, y + (side - desk.leading(desk.minor)) / 2),
        ]
        x += wide + 2.4
    return together(texts, y + side if marks else 0.0)


def tag(
    desk: Desk, label: str, right_mm: float, middle_mm: float, points: float = 0.0
) -> tuple[Block, float]:
    """A label in white on black, ending at ``right_mm``, and its width in mm."""
    points = points or desk.minor
    wide = line_width_mm((Run(label, True),), points) + 2 * SLACK_MM + 1.6
    high = desk.leading(points) + 0.6
    line = (Run(label, True),)
    text = Text(
        "tag", right_mm - wide, middle_mm - desk.leading(points) / 2, wide, points,
        desk.line_height, (line,), "center", desk.colour("paper"),
    )  # fmt: skip
    plate = box(Pen(fill=desk.colour("ink")), right_mm - wide, middle_mm - high / 2, wide, high)
    return Block((text,), (plate,), high), wide


AMOUNT_LEADING = 0.92  # numerals have no descenders
LINE_BOX_MM = 1.1  # between the numeral of a fill line and the box around it


def amount_width(step: StepView, desk: Desk) -> float:
    """Width in mm of a step's numeral and unit with the words before them; 0 for an action."""
    if not step.amount:
        return 0.0
    return line_width_mm(_amount_runs(step, desk), desk.body) + 2 * SLACK_MM


def _amount_runs(step: StepView, desk: Desk) -> tuple[Run, ...]:
    """What stands before "what"; a level to pour up to says "to", and never looks like an amount.

    The spaces around a level's numeral leave room for its box.
    """
    numeral = Run(step.amount, True, desk.sized("amount"))
    if step.kind == "line":
        return (Run(desk.words("to_line") + "  ", True, desk.minor), numeral,
                Run(f"  {step.unit}" if step.unit else " ", True, desk.minor))  # fmt: skip
    return (numeral, Run(f" {step.unit}", True)) if step.unit else (numeral,)


def amount_block(step: StepView, desk: Desk, right_mm: float) -> Block:
    """Numeral and unit on one line, ending at ``right_mm``, where "what" begins.

    The numeral of a fill-to-line step stands in a box, with "to" before it.
    """
    runs = _amount_runs(step, desk)
    wide = line_width_mm(runs, desk.body) + SLACK_MM
    text = Text("amount", right_mm - wide, 0, wide, desk.body, AMOUNT_LEADING, (runs,), "right")
    shapes: tuple[Shape, ...] = ()
    if step.kind == "line":
        after = line_width_mm(runs[2:], desk.body)
        inner = line_width_mm(runs[1:2], desk.body)
        high = cap_mm(desk.sized("amount")) + 2 * LINE_BOX_MM
        left = right_mm - after - inner - LINE_BOX_MM
        top = (text.height_mm - high) / 2
        shapes = (box(desk.pen(0.5), left, top, inner + 2 * LINE_BOX_MM, high, 0.8),)
    return Block((text,), shapes, text.height_mm)


def amount_mm(desk: Desk) -> float:
    """Height of a line with a step's numeral."""
    return desk.sized("amount") * AMOUNT_LEADING * MM_PER_PT


def cap_mm(points: float) -> float:
    """Height of capitals and numerals of a type size."""
    return points * MM_PER_PT * main_face().cap_height_em


def what_block(
    step: StepView, desk: Desk, width_mm: float, *, names_vessel: bool, compact: bool = False
) -> Block:
    """What goes in, bold; under it vessel (bold), tool and note in smaller type.

    ``compact`` puts all on one line where that fits.
    """
    named = step.vessel.upper() if names_vessel else ""
    vessel = desk.words("in_vessel", vessel=named) if named else ""
    rest = " · ".join(part for part in (step.tool, step.note) if part)
    what = Run(step.what, True, desk.sized("what"))
    if not vessel and not rest:
        return desk.text("what", (what,), desk.minor, width_mm)
    under = (Run(vessel + (" ·" if vessel and rest else ""), True), Run(rest))
    line = (what, Run(" ·"), *under)
    if compact and line_width_mm(line, desk.minor) + 3 * SLACK_MM < width_mm:
        return desk.text("what", line, desk.minor, width_mm, most_lines=1)
    return desk.text("what", (what, Run("\n"), *under), desk.minor, width_mm)
