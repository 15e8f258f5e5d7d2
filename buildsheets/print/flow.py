"""Blocks in reading order and the height of a page go in; the blocks of each page come out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from buildsheets.print import parts
from buildsheets.print.art import Pen, Shape, number
from buildsheets.print.desk import Desk
from buildsheets.print.legibility import Misfit
from buildsheets.print.plan import Block, Picture, Plan, Zone, stacked, together
from buildsheets.views.paper import Stock
from buildsheets.views.prep_views import AllergenMatrixView, BatchCardView, SheetView


@dataclass(frozen=True, slots=True)
class Piece:
    """A block that is not broken; ``gap_mm`` stands above it unless it begins a page.

    ``heading`` keeps it with the next piece; ``again`` is printed anew (as a table's header is)
    when the piece after it begins a page.
    """

    block: Block
    gap_mm: float
    heading: bool = False
    again: Block | None = None


def pages_of(pieces: Sequence[Piece], height_mm: float) -> list[list[tuple[float, Block]]]:
    """Pieces put on pages from the top: (top in mm, block) for each. Raises ``Misfit``."""
    pages: list[list[tuple[float, Block]]] = [[]]
    y = 0.0
    for index, piece in enumerate(pieces):
        need = piece.block.height_mm
        following = index + 1
        while pieces[following - 1].heading and following < len(pieces):
            need += pieces[following].gap_mm + pieces[following].block.height_mm
            following += 1
        top = y + piece.gap_mm if pages[-1] else 0.0
        if pages[-1] and top + need > height_mm + 1e-6:
            pages.append([])
            top = 0.0
            if piece.again is not None:
                pages[-1].append((0.0, piece.again))
                top = piece.again.height_mm
        if top + piece.block.height_mm > height_mm + 1e-6:
            raise Misfit(f"a block is {piece.block.height_mm:.0f} mm high, has {height_mm:.0f} mm")
        pages[-1].append((top, piece.block))
        y = top + piece.block.height_mm
    return pages


FlowView = BatchCardView | SheetView | AllergenMatrixView


def flowed(
    view: FlowView,
    pieces: Sequence[Piece],
    head: Callable[[int], Block],
    low: Callable[[float], Block],
    stock: Stock,
    desk: Desk,
    arcmin: float,
    count: int,
) -> tuple[Plan, ...]:
    """Pages of a view: ``head(part)`` on top, ``low(width)`` and the foot below, pieces between.

    A QR code that reaches up beside ``low`` leaves it less width. Raises ``Misfit`` when the pieces
    need more or fewer than ``count`` pages.
    """
    margin, gap = desk.space("margin"), desk.space("gap")
    width = stock.width_mm - 2 * margin
    bottom = stock.height_mm - margin
    foot, picture = parts.foot_block(view.foot, width, desk)
    foot_top = bottom - foot.height_mm
    rise = max(0.0, -picture.y_mm) if picture else 0.0
    side = picture.code.side_mm + 2.0 if picture and rise else 0.0
    lower = low(width - side)
    low_top = foot_top - max(gap + lower.height_mm if lower.height_mm else 0.0, rise)
    first = head(1)
    top = margin + first.height_mm + gap
    pages = pages_of(pieces, low_top - gap - top)
    if len(pages) != count:
        raise Misfit(f"it takes {len(pages)} pages, {count} were asked for")
    plans = []
    for part, page in enumerate(pages, 1):
        heading = (first if part == 1 else head(part)).moved(margin, margin)
        main = together([block.moved(margin, top + y) for y, block in page], 0)
        below = lower.moved(margin, low_top)
        base = foot.moved(margin, foot_top)
        qr = picture and Picture(
            picture.code, picture.x_mm + margin, picture.y_mm + foot_top, picture.alt
        )
        zones = (
            Zone("head", heading.texts),
            Zone("main", main.texts),
            Zone("low", below.texts),
            Zone("foot", base.texts),
        )
        shapes = together((heading, main, below, base), 0).shapes
        plans.append(
            Plan(view, view.title, stock, arcmin, part, count, zones, shapes, view.title, qr)
        )
    return tuple(plans)


def head_block(
    title: str,
    subtitle: str,
    width_mm: float,
    part: int,
    count: int,
    desk: Desk,
    *,
    tag: str = "",
) -> Block:
    """Title with a tag as loud at the right, then what it is about and which page this is."""
    loud = desk.sized("title")
    tag_width = desk.width(tag, loud, True)
    page = desk.words("part_of", part=part, parts=count) if count > 1 else ""
    about = " · ".join(text for text in (subtitle, page) if text)
    room = width_mm - (tag_width + 3.0 if tag else 0.0)
    block = stacked(
        [
            desk.text("title", title, loud, room, bold=True),
            desk.text("subtitle", about, desk.body, width_mm),
        ],
        0.4,
    )
    texts = [block]
    if tag:
        right = desk.text("part", tag, loud, tag_width, bold=True, align="right", most_lines=1)
        texts.append(right.moved(width_mm - tag_width, 0))
    height = block.height_mm + 1.2
    rule = Shape(desk.pen(0.7), 0, height - 0.4, f"h{number(width_mm)}")
    return together([*texts, Block((), (rule,), 0)], height)


def heading_block(text: str, width_mm: float, desk: Desk) -> Block:
    """A heading inside a sheet."""
    return desk.text("section", text, desk.sized("what"), width_mm, bold=True)


def tick_box(desk: Desk, x_mm: float, y_mm: float, side_mm: float) -> Shape:
    """An empty box to tick."""
    side = number(side_mm)
    return Shape(Pen(stroke=desk.colour("ink"), width_mm=0.35), x_mm, y_mm,
                 f"h{side}v{side}h-{side}z")  # fmt: skip
