"""A lesson goes in; orders to mark on an empty cup, and the lines to be marked, come out.

The lines are figured; whether the edge of the order's card has them is found out by reading it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from buildsheets.cup.serving import Serving
from buildsheets.learn.lesson import Lesson
from buildsheets.learn.questions import Source, digest
from buildsheets.views.gauge import NEAR_MM, gauge_lines
from buildsheets.views.types import CupDrawing, GaugeLine
from buildsheets.views.words import Words
from buildsheets.wall.reading import NotMade, Unclear, build_card
from buildsheets.wall.strings import number


@dataclass(frozen=True, slots=True)
class DryRun:
    """An order, its empty cup, and the lines to mark: those of its card's edge."""

    id: str
    drink: str
    title: str
    order: str
    cup_name: str
    cup: CupDrawing
    lines: tuple[GaugeLine, ...]
    source: Source
    kind: str = "dry run"


def dry_runs(lesson: Lesson, level: int) -> Iterator[DryRun]:
    """The orders of a level that are filled to a line, and whose card has it at its edge."""
    for serving in lesson.servings:
        for order in lesson.orders(serving):
            if lesson.level(order) == level and (lines := _lines(lesson, order)):
                view, drink = lesson.build(order), order.choices.build.drink
                title, named = lesson.named(order)
                yield DryRun(
                    id=digest(f"{title} {named} {lines}"),
                    drink=drink.id,
                    title=title,
                    order=named,
                    cup_name=view.cup_name,
                    cup=replace(view.drawing, layers=(), lines=()),
                    lines=lines,
                    source=lesson.source("build", drink.id, order.cup.id),
                )


def _lines(lesson: Lesson, order: Serving) -> tuple[GaugeLine, ...]:
    """The marks of the card's edge for an order; none where they are not at the figured heights."""
    figured = sorted(x.height_mm for x in gauge_lines(order, lesson.words) if x.kind == "line")
    read = lines_read(lesson, order)
    heights = [line.height_mm for line in read]
    same = len(heights) == len(figured) and all(
        abs(a - b) <= NEAR_MM for a, b in zip(heights, figured, strict=True)
    )
    return read if same else ()


def lines_read(lesson: Lesson, order: Serving) -> tuple[GaugeLine, ...]:
    """The marks that a reader of the build card finds for an order, the lowest first."""
    view, words, found = lesson.build(order), lesson.words, list[GaugeLine]()
    try:
        told = build_card(view, lesson.wish(order), words)
    except (NotMade, Unclear, ValueError):
        return ()
    for step in told:
        if step.unit == words("ml_line"):
            marks = [one for one in view.gauge if step.amount in _readings(one, words)]
            found += marks if len(marks) == 1 else []
    return tuple(sorted(found, key=lambda line: line.height_mm))


def _readings(mark: GaugeLine, words: Words) -> list[float]:
    """What the mark of a line reads: "380 / 385 ml"."""
    if mark.kind != "line":
        return []
    return [number(text, words) for text in re.findall(r"\d[\d.,\u00a0]*", mark.label)]
