"""A gauge strip too full for one card in; which drink is the first on each of several, out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from buildsheets.views.types import GaugeStripView, RackLine


def starts(
    view: GaugeStripView, label_mm: Callable[[RackLine], float], room_mm: float
) -> tuple[int, ...] | None:
    """The first drink of each card, in the menu's order, as many on each as have room for all their
    labels; ``None`` where one drink's have none."""
    marks: dict[str, list[int]] = {}  # of each name, the rows it stands in
    for place, row in enumerate(view.rows):
        for name in row.drinks:
            marks.setdefault(name, []).append(place)
    frame_mm = sum(label_mm(row) for row in view.rows if not row.drinks)
    found = [0]
    held: dict[int, RackLine] = {}
    high: dict[int, float] = {}
    for number, (_, *names) in enumerate(view.by_drink):
        own: dict[int, tuple[str, ...]] = {}
        for name in names:
            for place in marks[name]:
                own[place] = (*own.get(place, ()), name)
        for cards_own in (held, {}):  # beside those before it, or on the next card
            rows = {
                place: replace(view.rows[place], drinks=(*before, *more))
                for place, more in own.items()
                for before in [cards_own[place].drinks if place in cards_own else ()]
            }
            heights = (high if cards_own else {}) | {
                place: label_mm(row) for place, row in rows.items()
            }
            if frame_mm + sum(heights.values()) <= room_mm:
                break
        else:
            return None
        if not cards_own and number:
            found.append(number)
        held, high = cards_own | rows, heights
    return tuple(found)
