"""A lesson goes in; the questions that have one right answer come out, those left out with the
reason, and the sheets of a seed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from random import Random
from typing import Protocol, TypeVar

from buildsheets.learn.checker import Reader
from buildsheets.learn.lesson import Lesson
from buildsheets.learn.makers import questions
from buildsheets.learn.questions import Question, digest


class Asked(Protocol):
    """A question or a dry run."""

    @property
    def kind(self) -> str: ...
    @property
    def drink(self) -> str: ...


T = TypeVar("T", bound=Asked)

SAME_ID = "another question has its short name"


@dataclass(frozen=True)
class Pool:
    """The questions of a station, "" for all, at a level; those that are not asked, with why.

    ``mark`` is short and another where the menu asks something else.
    """

    station: str
    level: int
    questions: tuple[Question, ...]
    removed: tuple[tuple[Question, str], ...] = ()

    @property
    def mark(self) -> str:
        return digest(" ".join(one.id for one in self.questions), 2)


def pool_of(lesson: Lesson, station: str, level: int) -> Pool:
    """Every question of a level that the cards of a station answer in one way."""
    reader = Reader(lesson.cards, lesson.words, lesson.many)
    found: dict[str, Question] = {}
    removed = []
    for one in questions(lesson, station, level):
        why = SAME_ID if one.id in found else reader.fault(one)
        if why:
            removed.append((one, why))
        else:
            found[one.id] = one
    return Pool(station, level, tuple(found.values()), tuple(removed))


@dataclass(frozen=True)
class Slice:
    """What is on one sheet of a series; ``used_up`` once all were asked, and are asked again."""

    questions: tuple[Question, ...]
    used_up: bool


def asked(pool: Pool, seed: int, sheet: int, a_sheet: int) -> Slice:
    """The questions of a sheet, from 1 on: none comes twice before all were asked."""
    round_, at = divmod(sheet - 1, max(1, ceil(len(pool.questions) / a_sheet)))
    order = mixed(pool.questions, f"{seed} {round_}", a_sheet)
    return Slice(tuple(order[at * a_sheet : (at + 1) * a_sheet]), round_ > 0)


def mixed(things: Sequence[T], seed: str, apart: int) -> list[T]:
    """All questions in an order of the seed's: kinds take turns as long as there are some, and so
    many in a row are about different drinks as far as that can be."""
    draw, kinds = Random(seed), dict[str, list[T]]()
    for one in things:
        kinds.setdefault(one.kind, []).append(one)
    for some in kinds.values():
        draw.shuffle(some)
    found: list[T] = []
    while kinds:
        for kind, some in list(kinds.items()):
            lately = {one.drink for one in found[-apart:]}
            at = next((n for n, one in enumerate(some) if one.drink not in lately), 0)
            found.append(some.pop(at))
            if not some:
                del kinds[kind]
    return found
