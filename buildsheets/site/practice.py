"""A lesson and the cards that were published go in; what a phone asks, station by station, comes
out."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import islice, zip_longest
from operator import attrgetter
from typing import Any

from buildsheets.learn.checker import Reader
from buildsheets.learn.lesson import Lesson
from buildsheets.learn.makers import questions
from buildsheets.learn.questions import LEVELS, Arrange, Choose, Fill, Question, Row, answer
from buildsheets.ledger.ledger import Entry
from buildsheets.ledger.payload import page_name
from buildsheets.ledger.publish import EditionCards
from buildsheets.views.words import Words
from buildsheets.wall.strings import number

FOLDER = "practice"
MOST = {1: 200, 2: 100, 3: 100}
"""Questions of each level that a station's page has: some two months of ten new ones on every
working day, and pages of at most some 200 kB. Common practice, no source."""
ROUND = 10
"""Questions asked in a row; common practice, no source."""
WAITS_DAYS = (0, 2, 5, 8, 14)
"""How long each of Leitner's five boxes waits. His own (So lernt man lernen, 1972) are 1, 2, 5, 8
and 14 cm wide and gone through when they are full; he names no days. A day for each cm is ours, as
is that the first is asked again at once."""


@dataclass(frozen=True, slots=True)
class Station:
    """A page of practice: its file, what it is called, and its questions in the order in which new
    ones are asked."""

    file: str
    name: str
    questions: tuple[Question, ...]


@dataclass(frozen=True, slots=True)
class Practice:
    """What is practised in a language: the shop's page first, then one a station. ``edition`` says
    of which season; ``published`` are the cards that are asked of, by code."""

    words: Words
    edition: tuple[str, ...]
    stations: tuple[Station, ...]
    published: Mapping[str, Entry]

    @property
    def folder(self) -> str:
        """Where its pages are within the site."""
        return f"{FOLDER}/{self.words.language}"


def practice_of(lesson: Lesson, cards: EditionCards) -> Practice:
    """What can be asked of the cards that were published as the menu makes them now; of drafts
    nothing."""
    published = {one.entry.code: one.entry for one in cards.cards if not one.draft}
    reader = Reader(lesson.cards, lesson.words, lesson.many)
    words, stations = lesson.words, lesson.menu.stations
    name = {"": words.name(lesson.menu.shop)}  # the one page of a shop with one station
    if len(stations) > 1:
        name = {"": words("learn_all")} | {id_: words.name(one) for id_, one in stations.items()}
    pages = (
        Station(
            f"at-{id_}.html" if id_ else "index.html",
            name[id_],
            tuple(one for level in LEVELS for one in _asked(lesson, reader, id_, level, published)),
        )
        for id_ in name
    )
    edition = cards.base.feet.get(words.language, ()) if cards.base else ()
    return Practice(words, edition, tuple(one for one in pages if one.questions), published)


def _asked(
    lesson: Lesson, reader: Reader, station: str, level: int, published: Mapping[str, Entry]
) -> Iterator[Question]:
    """The questions of a level, of a large menu some of each kind.

    Which these are hangs on each question alone, so that a change of the menu leaves the others."""
    kinds: dict[str, dict[str, Question]] = {}
    for one in sorted(questions(lesson, station, level), key=attrgetter("id")):
        if all(source.code in published for source in one.sources):
            kinds.setdefault(one.kind, {})[one.id] = one
    turns = zip_longest(*(some.values() for _, some in sorted(kinds.items())))
    right = (one for turn in turns for one in turn if one and not reader.fault(one))
    return islice(right, MOST[level])


def page_data(practice: Practice, station: Station) -> str:
    """What the script of a station's page reads, as JSON that may stand within a page of HTML."""
    words = practice.words
    codes = {source.code: source.label for one in station.questions for source in one.sources}
    at = {code: place for place, code in enumerate(codes)}
    cards = []
    for code, label in codes.items():
        page = page_name(code, practice.published[code].revision)
        cards.append((label, code, f"../../{page}/index.html"))
    asked = [
        {
            "id": one.id,
            "title": one.title,
            "order": one.order if one.kind in OF_AN_ORDER else "",
            "ask": _ask(one, words),
            "why": one.reason,
            "caution": one.caution,
            "cards": [at[source.code] for source in one.sources],
            **_form(one, words),
        }
        for one in station.questions
    ]
    said = {key: words(f"practice_{key}", **FILLED_IN_LATER) for key in SAID}
    told = {"words": said, "waits": WAITS_DAYS, "round": ROUND, "cards": cards, "questions": asked}
    text = json.dumps(told, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c")  # no tag within the page can end or open its element


OF_AN_ORDER = ("amounts", "steps", "mistake")
"""What is asked of an order; the rest is of a drink whatever is ordered."""
SAID = (
    *("nothing_given", "right", "wrong", "you", "up", "down", "place", "round", "score"),
    "nothing",
)  # fmt: skip
"""The words that the script says."""
FILLED_IN_LATER = {
    name: f"{{{name}}}"
    for name in ("answer", "text", "place", "places", "known", "asked", "box", "right", "day")
}
"""What the script puts into them stands in them as a name."""


def _ask(question: Question, words: Words) -> str:
    """What is asked, in words for a phone, where nobody writes into boxes."""
    match question.kind:
        case "steps" | "mistake":
            return words(f"practice_{question.kind}")
        case "amounts":
            return f"{question.ask} {words('practice_half')}"
        case _:
            return question.ask


def _form(question: Question, words: Words) -> dict[str, Any]:
    match question.form:
        case Fill(rows):
            told = (what for _, what in answer(question))
            values = ((row, _value(row, words)) for row in rows)
            return {"fill": [
                (row.label, row.unit, value, "" if value is None else next(told))
                for row, value in values
            ]}  # fmt: skip
        case Arrange(texts, places):
            return {"arrange": {"texts": texts, "places": places}}
        case Choose(options, right, several):
            choose = {"options": options, "right": sorted(right), "several": several}
            return {"choose": choose}


def _value(row: Row, words: Words) -> float | str | None:
    """The right answer as a number, or as a time of day; ``None`` where there is no gap."""
    if not row.answer or ":" in row.answer:
        return row.answer or None
    return number(row.answer, words)
