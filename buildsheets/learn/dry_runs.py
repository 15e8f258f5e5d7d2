"""A lesson goes in; orders to mark on an empty cup, and the lines to be marked, come out.

The lines are figured; whether the edge of the order's card has them is found out by reading it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from buildsheets.cup.serving import Serving
from buildsheets.learn.lesson import Lesson
from buildsheets.learn.pool import mixed
from buildsheets.learn.questions import Source, digest
from buildsheets.views.gauge import NEAR_MM, gauge_lines
from buildsheets.views.types import CupDrawing, GaugeLine
from buildsheets.wall.reading import NotMade, Unclear, build_card
from buildsheets.wall.strings import number, readings

RIGHT_MM = 2
"""A line drawn so near is right: about what a hand draws along a card's edge; common practice, no
source."""


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

    @property
    def answer(self) -> tuple[str, ...]:
        """What is written beside its lines, the lowest first."""
        return tuple(line.label for line in self.lines)


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


def in_turn(runs: Sequence[DryRun], seed: str, apart: int) -> list[DryRun]:
    """All of them in an order of the seed's: no answer comes again before every other one came, and
    then they come in the same turn, as far apart as can be."""
    came, first = Counter[tuple[str, ...]](), dict[tuple[str, ...], int]()
    turns = []
    for run in mixed(runs, seed, apart):
        turns.append((came[run.answer], first.setdefault(run.answer, len(first)), run))
        came[run.answer] += 1
    return [run for *_, run in sorted(turns, key=lambda turn: turn[:2])]


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
    """The marks that a reader of the build card finds for an order, the lowest first, each with the
    number of its step alone: a mark "380 / 385 ml" is that of two."""
    view, words, found = lesson.build(order), lesson.words, list[GaugeLine]()
    try:
        told = build_card(view, lesson.wish(order), words)
    except (NotMade, Unclear, ValueError):
        return ()
    for step in told:
        if step.unit == words("ml_line"):
            marks = [
                replace(one, label=words(words.volumes.word, n=text))
                for one in view.gauge
                for text in readings(one.label, words)
                if number(text, words) == step.amount
            ]
            found += marks if len(marks) == 1 else []
    return tuple(sorted(found, key=lambda line: line.height_mm))
