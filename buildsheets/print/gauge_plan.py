"""A gauge strip's view and a type size in; the placed strip, or why it does not fit, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from buildsheets.print import parts
from buildsheets.print.desk import Desk
from buildsheets.print.gauge import LEADER_MM, TICK_MM, gauge_shapes, place_marks, spread
from buildsheets.print.legibility import Misfit, Run
from buildsheets.print.plan import Block, Picture, Plan, Zone, stacked, together
from buildsheets.views.cup_views import GaugeStripView, RackLine
from buildsheets.views.paper import Stock

_ROW_GAP_MM = 0.8


def plan_gauge(view: GaugeStripView, stock: Stock, desk: Desk, arcmin: float, count: int
               ) -> tuple[Plan, ...]:  # fmt: skip
    """Marks at the left edge, each with its label and drinks beside it. Raises ``Misfit``."""
    if count > 1:
        raise Misfit("a gauge strip is one card")
    margin, gap = desk.space("margin"), desk.space("gap")
    left = TICK_MM + LEADER_MM + 0.8
    width = stock.width_mm - margin - left
    bottom = stock.height_mm - margin
    head = stacked(
        [
            desk.text("title", view.size_name, desk.sized("title"), width, bold=True),
            desk.text("subtitle", view.subtitle, desk.minor, width),
        ],
        0.4,
    ).moved(left, margin)
    top = margin + head.height_mm + gap
    foot, picture = parts.foot_block(view.foot, width, desk)
    foot_top = bottom - foot.height_mm
    rise = max(0.0, -picture.y_mm) if picture else 0.0
    labels = {row.line: _label(row, width, desk) for row in view.rows}
    marks = place_marks(view.gauge, stock.height_mm, 0.0, pouch_border_mm=desk.pouch_border_mm)
    heights = [labels[mark.line].height_mm for mark in marks]
    wanted = [mark.mark_y_mm for mark in marks]
    middles = _apart(wanted, heights, top, foot_top - rise - gap)
    marks = tuple(replace(m, label_y_mm=y) for m, y in zip(marks, middles, strict=True))
    placed = together(
        [
            labels[mark.line].moved(left, mark.label_y_mm - labels[mark.line].height_mm / 2)
            for mark in marks
        ],
        0,
    )
    drawn = gauge_shapes(
        marks, view.gauge_floor_mm, stock.height_mm, desk.colour("ink"),
        pouch_border_mm=desk.pouch_border_mm,
    )  # fmt: skip
    foot = foot.moved(left, foot_top)
    zones = (
        Zone("head", head.texts),
        Zone("gauge", placed.texts),
        Zone("foot", foot.texts),
    )
    shapes = together((head, placed, foot, Block((), drawn, 0)), 0).shapes
    qr = picture and Picture(
        picture.code, picture.x_mm + left, picture.y_mm + foot_top, picture.alt
    )
    alt = desk.words("gauge")
    return (
        Plan(view, f"{view.title}, {view.size_name}", stock, arcmin, 1, 1, zones, shapes, alt, qr),
    )


def _apart(
    wanted: Sequence[float], heights: Sequence[float], low: float, high: float
) -> list[float]:
    """Middles of labels of different heights, moved as little as possible until none overlap.

    Less the heights above it, a label may come as near to its neighbour as nothing: labels of no
    height are spread. Raises ``Misfit`` when they do not fit between ``low`` and ``high``.
    """
    tall = [height + _ROW_GAP_MM for height in heights]
    before = [sum(tall[:index]) + height / 2 for index, height in enumerate(tall)]
    if low + sum(tall) > high:
        raise Misfit(f"the labels take {sum(tall):.0f} mm, have {high - low:.0f} mm")
    shifted = [want - above for want, above in zip(wanted, before, strict=True)]
    placed = spread(shifted, 0.0, low, high - sum(tall))
    return [place + above for place, above in zip(placed, before, strict=True)]


def _label(row: RackLine, width: float, desk: Desk) -> Block:
    """The line in large type with its height, and the drinks that are poured to it."""
    strong = row.line.kind == "line"
    first = (Run(row.line.label, strong), Run(f" · {row.height}"))
    return stacked(
        [
            desk.text("gauge", first, desk.body if strong else desk.minor, width),
            desk.text("drinks", " · ".join(row.drinks), desk.minor, width),
        ],
        0.0,
    )
