"""A lesson goes in; orders to mark on an empty cup, and the lines to be marked, come out.

The lines are figured; whether the edge of the order's card has them is found out by reading it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from buildsheets.cup.serving import Serving
from buildsheets.learn.lesson import Lesson
from buildsheets.learn.questions import Source, digest
from buildsheets.views.gauge import NEAR_MM, gauge_lines
from buildsheets.views.types import GaugeLine
from buildsheets.wall.reading import NotMade, Unclear, build_card
from buildsheets.wall.strings import number

MARKED = ("line", "bed", "cap")


@dataclass(frozen=True, slots=True)
class DryRun:
    """An order, its cup from the counter up, and the lines to mark: those of its card's edge.

    ``outline_mm`` has the inner diameter at heights over the inner floor, as in a cup drawing.
    """

    id: str
    drink: str
    title: str
    order: str
    cup_name: str
    outline_mm: tuple[tuple[float, float], ...]
    floor_mm: float
    lines: tuple[GaugeLine, ...]
    source: Source
    kind: str = "dry run"


def dry_runs(lesson: Lesson, level: int) -> Iterator[DryRun]:
    """The orders of a level that some line is marked for, and whose card has these lines.

    1: as drinks are usually made, with what settles and floats; 2: with other sweetness and ice;
    3: with one add-on or swap.
    """
    for serving in lesson.servings:
        for order in lesson.orders(serving):
            choice, default = order.choice, order.choices.default
            extras = len(choice.add_ons) + len(choice.swaps)
            same = (choice.sweetness, choice.ice) == (default.sweetness, default.ice)
            if (1 if choice == default else 2 if not extras else 3 if same else 0) != level:
                continue
            if extras < 2 and (lines := _lines(lesson, order, level)):
                yield _dry_run(lesson, order, lines)


def _lines(lesson: Lesson, order: Serving, level: int) -> tuple[GaugeLine, ...]:
    kinds = MARKED if level == 1 else MARKED[:1]
    found = [one for one in gauge_lines(order, lesson.words) if one.kind in kinds]
    read = lines_read(lesson, order, kinds)
    alike = len(read) == len(found) and all(
        abs(ours.height_mm - theirs.height_mm) <= NEAR_MM
        for ours, theirs in zip(sorted(found, key=_height), read, strict=True)
    )
    return tuple(read) if alike else ()


def _height(line: GaugeLine) -> float:
    return line.height_mm


def lines_read(lesson: Lesson, order: Serving, kinds: tuple[str, ...]) -> list[GaugeLine]:
    """The marks that a reader of the build card finds for an order, the lowest first."""
    view, words = lesson.build(order), lesson.words
    try:
        told = build_card(view, lesson.wish(order), words)
    except (NotMade, Unclear, ValueError):
        return []
    found = [mark for mark in view.gauge if mark.kind in kinds and mark.kind != "line"]
    for step in told:
        if step.unit == words("ml_line") and step.amount is not None:
            marks = [mark for mark in view.gauge if step.amount in _readings(mark, lesson)]
            found += marks if len(marks) == 1 else []
    return sorted(found, key=_height)


def _readings(mark: GaugeLine, lesson: Lesson) -> list[float]:
    """What a mark of a line reads: "380 / 385 ml"."""
    if mark.kind != "line":
        return []
    return [number(text, lesson.words) for text in re.findall(r"\d[\d.,\u00a0]*", mark.label)]


def _dry_run(lesson: Lesson, order: Serving, lines: tuple[GaugeLine, ...]) -> DryRun:
    view, drink = lesson.build(order), order.choices.build.drink
    title, named = lesson.named(order)
    return DryRun(
        id=digest(f"{title} {named} {lines}"),
        drink=drink.id,
        title=title,
        order=named,
        cup_name=view.cup_name,
        outline_mm=view.drawing.outline_mm,
        floor_mm=view.gauge_floor_mm,
        lines=lines,
        source=lesson.source("build", drink.id, order.cup.id),
    )
