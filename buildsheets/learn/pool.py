"""A lesson goes in; the questions that have one right answer come out, those left out with the
reason, and the sheets of a seed."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
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


GIVEN_AWAY: Mapping[str, Collection[str]] = {
    "steps": ("amounts",),  # whose rows stand in the order of the steps
    "sizes": ("amounts", "steps", "cup"),  # which are of a size
    "offered": ("place", "amounts"),  # with an add-on in it
    "swap": ("amounts",),  # whose rows are those that change
    "amounts": ("mistake",),  # which prints the other lines of the build as they are
    "mistake": ("mistake",),
}
"""What a question of a kind is answered by that is printed for one of another, of one drink."""


def asked(pool: Pool, seed: int, sheet: int, a_sheet: int) -> Slice:
    """The questions of a sheet, from 1 on: none comes twice before all were asked, and then the
    same sheets come in another order."""
    sheets: list[list[Question]] = []
    free: list[list[Question]] = []
    for one in mixed(pool.questions, f"{seed} 0", a_sheet):
        fits = (on_it for on_it in free if not any(_give_away(one, other) for other in on_it))
        if (on_it := next(fits, None)) is None:
            sheets.append(on_it := [])
            free.append(on_it)
        on_it.append(one)
        if len(on_it) == a_sheet:
            free.remove(on_it)
    round_, at = divmod(sheet - 1, max(1, len(sheets)))
    if round_:
        Random(f"{seed} {round_}").shuffle(sheets)
    return Slice(tuple(sheets[at]) if sheets else (), round_ > 0)


def _give_away(one: Question, other: Question) -> bool:
    """Whether what is printed for one of two questions answers the other."""
    kinds = other.kind in GIVEN_AWAY.get(one.kind, ()) or one.kind in GIVEN_AWAY.get(other.kind, ())
    return kinds and one.drink == other.drink


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
