"""The types of a practice question: what is asked, in which form it is answered, and why the answer
is right; frozen, in the reader's language, the same on sheets and phone pages.

A question is made of a menu's cards alone and is the same for the same cards: a seed decides which
are asked and in which order, never what they say. ``makers.py`` makes them, ``checker.py`` answers
each by reading the printed cards, ``pool.py`` hands out those with exactly one right answer.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal, get_args

from buildsheets.wall.reading import Wish

Kind = Literal[
    "amounts",  # fill in what each step takes
    "by-size",  # fill in what each size takes of one thing
    "steps",  # put the steps in order
    "cup",  # which cup a size is
    "sizes",  # which sizes a drink is sold in
    "mistake",  # one line of a build is wrong: which, and what is right
    "offered",  # which add-ons a drink is made with
    "place",  # after which step an add-on goes in
    "swap",  # which steps a swap changes
    "allergen",  # which of these drinks hold an allergen
    "keeps",  # until when something opened or made is good
]
KINDS: tuple[Kind, ...] = get_args(Kind)
LEVELS = (1, 2, 3)
"""1: the usual order of a drink. 2: sweetness and ice. 3: add-ons, swaps, allergens, keeping and
planted mistakes."""


@dataclass(frozen=True, slots=True)
class Row:
    """A row to fill in: "2 · Ice cubes", of a station "Ice cubes"; behind the gap "ice scoops".

    ``answer`` "" is a row without a gap, printed so that the build is whole; ``step`` is the number
    of the step on the card, 0 for an add-on and for what is no step. ``printed`` is how the card
    has it, "1 ice scoop", since ``unit`` must not tell whether it is one.
    """

    label: str
    answer: str = ""
    unit: str = ""
    step: int = 0
    printed: str = ""


@dataclass(frozen=True, slots=True)
class Fill:
    """Rows with gaps; each gap takes one text: "2", "425", "13:15"."""

    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Arrange:
    """Texts in a wrong order; ``places`` has the place of each in the right one, from 1 on."""

    texts: tuple[str, ...]
    places: tuple[int, ...]
    steps: tuple[int, ...] = ()  # the number of each on the card


@dataclass(frozen=True, slots=True)
class Choose:
    """Options, of which those in ``right`` (from 0 on) are to be marked: one, or every one that
    holds (``several``; there may be one alone, never none).

    ``mend`` is what has to stand in the place of the marked line where one is wrong, "" where
    nothing has to be written.
    """

    options: tuple[str, ...]
    right: tuple[int, ...]
    several: bool = False
    mend: str = ""


Form = Fill | Arrange | Choose


@dataclass(frozen=True, slots=True)
class Source:
    """The card that a hire looks the answer up on: the code printed at its foot, and its name."""

    code: str  # "B-STHR5-Y"
    label: str  # "Marsh Milk Tea, Medium"


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question.

    ``id`` is short, printed beside the question, and changes when what is asked or the answer
    changes; it is the same on every sheet and phone page of the same cards. ``drink`` and ``cup``
    are ids, "" where the question is of none in particular; ``station`` is the id of the station
    whose card it is of, "" of a build card. ``wish`` is the order in printed words where one is
    asked about, and ``about`` whatever else: an allergen, an add-on, what was opened and when, what
    belongs into the line that is wrong, ``step`` of the card.
    """

    id: str = ""
    kind: Kind
    level: int
    drink: str = ""
    cup: str = ""
    station: str = ""
    title: str  # whom it is about: "Marsh Milk Tea, Medium"
    order: str = ""  # the order: "usual order", "50%, Less ice, Tapioca pearls"
    ask: str  # "How much goes in?"
    form: Form
    reason: str  # why the answer is right, in one sentence
    sources: tuple[Source, ...]
    caution: str = ""  # stands with the question and again with its answer
    wish: Wish | None = None
    about: tuple[str, ...] = ()
    step: int = 0


# No I, L, O, U: nothing is read or typed as something else (Crockford's base 32).
LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
ID_LENGTH = 5
"""As long as the middle of a card code: of thousands of questions, few if any meet."""


def digest(text: str, length: int = ID_LENGTH) -> str:
    """A short text of letters and digits that tells one text from another."""
    number = int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big")
    return "".join(LETTERS[number >> 5 * place & 31] for place in range(length))


def with_id(question: Question) -> Question:
    """The question with its id, by all that is asked and answered; not by where it is looked up."""
    said = replace(question, id="", sources=(), reason="", caution="")
    return replace(question, id=digest(repr(said)))


def answer(question: Question) -> Iterator[tuple[str, str]]:
    """The right answer as (where, what): ("2 · Ice cubes", "2 ice scoops"), ("", "C: Oat Mist")."""
    match question.form:
        case Fill(rows):
            for row in rows:
                if row.answer:
                    yield row.label, row.printed or f"{row.answer} {row.unit}".strip()
        case Arrange(texts, places):
            for place, text in sorted(zip(places, texts, strict=True)):
                yield str(place), text
        case Choose(options, right, _, mend):
            for at in right:
                yield mark(at), mend or options[at]


def mark(option: int) -> str:
    """What an option is called: A, B, C, then numbers where letters run out."""
    letters = LETTERS[10:]
    return letters[option] if option < len(letters) else str(option + 1)


@dataclass(frozen=True, slots=True)
class Point:
    """What one answer is of: a step of a drink, or, at step 0, something else about it.

    ``subject`` is the id of the drink, or the name of what no drink is asked about.
    """

    subject: str
    step: int
    kind: Kind
    what: str  # "4 · Black tea"; "" for what is no step


def points(question: Question) -> tuple[Point, ...]:
    """What a question is of: a point for each gap to fill in, else one. Only amounts and mistakes
    are of steps."""
    form, subject = question.form, question.drink or question.title
    (thing, *_) = (*question.about, "")
    if isinstance(form, Choose) and form.mend:
        return (Point(subject, question.step, "amounts", f"{question.step} · {thing}"),)
    if not isinstance(form, Fill) or not question.drink:
        return (Point(subject, 0, question.kind, ""),)
    found = []
    for row in form.rows:
        # Of a row of sizes the thing is in what is asked about; a station's have no numbers.
        named = thing or (row.label if question.station else "")
        what = f"{row.step} · {named}" if named and row.step else row.label
        found += [Point(subject, row.step, "amounts", what)] if row.answer else []
    return tuple(found)
