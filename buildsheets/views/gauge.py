"""A serving goes in; its edge gauge and its cup's gauge strip come out."""

from __future__ import annotations

import math
from collections.abc import Sequence

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import CupSize, Menu
from buildsheets.views import rounding
from buildsheets.views.paper import SERIES
from buildsheets.views.types import GaugeLine, GaugeStripView, RackLine
from buildsheets.views.words import Words


def gauge_lines(serving: Serving, words: Words) -> tuple[GaugeLine, ...]:
    """The levels a barista checks, in mm above the counter: lines, bed, cap, limit and rim."""
    floor, cup = serving.cup.floor_mm, serving.final.cup

    def line(height_mm: float, label: str, kind: str, step: int = 0) -> GaugeLine:
        return GaugeLine(round(height_mm + floor, 2), label, kind, step)

    found = []
    for figure in serving.steps:
        state, used = figure.state, figure.used
        behaves = used.component.behaves if used else ""
        if used and used.to_line_ml is not None:
            height, reading_ml, kind = used.to_line_mm, used.to_line_ml, "line"
        elif behaves == "settled":
            height, reading_ml, kind = state.bed_top_mm, state.bed_top_ml, "bed"
        elif behaves == "floated":
            height, reading_ml, kind = state.cap_top_mm, state.cap_top_ml or 0.0, "cap"
        else:
            continue
        if height is not None:
            label = rounding.level(words, reading_ml)
            label = label if kind == "line" else words(f"gauge_{kind}_at", level=label)
            found.append(line(height, label, kind, figure.number))
    limit = line(cup.height_mm(serving.working_ml), words("gauge_limit"), "working")
    return (*found, limit, line(cup.rim_height_mm, words("gauge_rim"), "rim"))


STRIP_HEADROOM_MM = 26.0
"""Above the rim's mark on a gauge strip, for the name of the cup: where it reached down to the
marks it would push their labels away from them."""


def gauge_view(
    menu: Menu, size: CupSize, servings: Sequence[Serving], words: Words
) -> GaugeStripView | None:
    """Every line that drinks in a cup are poured to, at 1:1; ``None`` when there is no drink.

    The strip is on the smallest paper of the shop's series that is high enough for the rim.
    """
    drinks: dict[tuple[str, str, float], list[str]] = {}
    lines = {}
    for serving in [one for one in servings if one.cup.id == size.id]:
        name = words.name(serving.drink)
        for line in gauge_lines(serving, words):
            key = (line.kind, line.label, line.height_mm)
            if line.kind in ("line", "working", "rim"):
                lines[key] = line
            if line.kind == "line" and name not in drinks.setdefault(key, []):
                drinks[key].append(name)
    if not lines:
        return None
    rows = []
    for key, line in sorted(lines.items(), key=lambda item: item[1].height_mm):
        height = words("step_height", mm=math.floor(line.height_mm))
        rows.append(RackLine(line, height, tuple(drinks.get(key, ()))))
    width_mm, height_mm = _strip_size(menu, rows[-1].line.height_mm)
    return GaugeStripView(
        kind="gauge",
        language=words.language,
        title=words("gauge_title"),
        size_name=words.name(size),
        subtitle=words("gauge_strip"),
        rows=tuple(rows),
        gauge_floor_mm=size.floor_mm,
        reading_distance_mm=max(s.reading_distance_mm for s in menu.stations.values()),
        width_mm=width_mm,
        height_mm=height_mm,
    )


def _strip_size(menu: Menu, rim_mm: float) -> tuple[float, float]:
    """The smallest upright paper, of the series of the shop's cards, that reaches over the rim."""
    card = menu.shop.card_width_mm, menu.shop.card_height_mm
    for series in SERIES.values():
        sizes = [(paper.width_mm, paper.height_mm) for paper in series]
        if card in sizes or card[::-1] in sizes:
            for width_mm, height_mm in sizes:
                # Room beside the gauge for the 50 mm proof bar and its words takes 100 mm.
                if width_mm >= 100 and height_mm >= rim_mm + STRIP_HEADROOM_MM:
                    return width_mm, height_mm
    return card
