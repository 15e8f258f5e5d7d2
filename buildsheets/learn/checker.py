"""A question and the printed cards go in; what is wrong with asking it comes out, "" for nothing.

The answer is found anew by reading the cards as a person does; nothing is taken from the figures or
from how the question was made. A question has exactly one right answer where the reader finds one,
it is the key's, and no other option is right too, for any reading of what is asked.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from buildsheets.learn.questions import Arrange, Choose, Fill, Question, Row
from buildsheets.views.card import CardKey
from buildsheets.views.types import (
    AllergenMatrixView,
    BuildCardView,
    StationCardView,
    StepView,
    View,
)
from buildsheets.views.words import Words
from buildsheets.wall.reading import (
    NotMade,
    Told,
    Unclear,
    Visit,
    Wish,
    build_card,
    goes_after,
    visits,
)
from buildsheets.wall.strings import number, said

ALIKE = "two of its answers or steps read alike"
OTHERWISE = "the card says something else"
UNTOLD = "the card does not say it, or not in one way"
ANOTHER = "what should be wrong is right for another order"
UNDECIDED = "a drink may contain it, or nobody declared whether it does"
REASONS = (ALIKE, OTHERWISE, UNTOLD, ANOTHER, UNDECIDED)
"""Why a question is not asked."""


class Ambiguous(Exception):
    """A question that is not asked; why."""


@dataclass
class Reader:
    """Who reads the cards of a language.

    ``many`` has what one of several is called for what several are: "pumps" for "pump".
    """

    cards: Mapping[CardKey, View]
    words: Words
    many: Mapping[str, str]
    _visits: dict[tuple[Wish, str], tuple[Visit, ...]] = field(default_factory=dict)

    def fault(self, question: Question) -> str:
        """Why a question has not exactly one right answer; "" where it has."""
        try:
            self._check(question)
        except Ambiguous as why:
            return str(why)
        except (NotMade, Unclear, ValueError):
            return UNTOLD
        return ""

    def _check(self, asked: Question) -> None:
        form = asked.form
        if isinstance(form, Choose):
            # Of a build with two steps that read alike, another may still be told to be wrong.
            apart = range(len(form.options)) if asked.kind != "mistake" else form.right
            _demand(all(form.options.count(form.options[at]) == 1 for at in apart), ALIKE)
            right = tuple(self._right(asked, form))
            _demand(bool(right) and (form.several or len(right) == 1), UNTOLD)
            _demand(right == form.right, OTHERWISE)
        elif isinstance(form, Arrange):
            texts = [self._text(told) for told in self._told(asked)]
            _demand(len({*form.texts}) == len(form.texts), ALIKE)
            _demand(sorted(texts) == sorted(form.texts), OTHERWISE)
            _demand([texts.index(text) + 1 for text in form.texts] == [*form.places], OTHERWISE)
        elif asked.kind == "keeps":
            (row,) = form.rows
            _demand(row.answer == self._good_until(*asked.about), OTHERWISE)
        else:
            self._check_amounts(asked, form)

    def _right(self, asked: Question, form: Choose) -> Iterator[int]:
        """The options that hold by the cards, from 0 on."""
        match asked.kind:
            case "cup":
                names = {self._card(asked).cup_name, self._build(asked).cup_name}
                yield from (at for at, name in enumerate(form.options) if name in names)
            case "sizes":
                drink = self._wish(asked).drink
                sizes = {one.size_name for one in self._builds() if one.title == drink}
                yield from (at for at, name in enumerate(form.options) if name in sizes)
            case "offered":
                made = {one.name for one in self._build(asked).add_ons if one.fits}
                yield from (at for at, name in enumerate(form.options) if name in made)
            case "place":
                (name,) = asked.about
                (place,) = {one.place for one in self._build(asked).add_ons if one.name == name}
                yield goes_after(place, self.words)
            case "swap":
                yield from self._changed(asked)
            case "mistake":
                yield self._wrong_line(asked, form)
            case "allergen":
                (name,) = asked.about
                yield from (at for at, one in enumerate(form.options) if self._holds(one, name))
            case _:
                raise ValueError(asked.kind)

    # amounts --------------------------------------------------------------------------------------

    def _check_amounts(self, asked: Question, form: Fill) -> None:
        by_size = asked.kind == "by-size"
        for row in form.rows:
            if row.answer:
                found = self._of_size(asked, row) if by_size else self._of_row(asked, row)
                _demand(len(found) < 2, ALIKE)
                _demand(len(found) == 1, UNTOLD)
                (told,) = found
                same = self.many.get(told.unit, told.unit) == self.many.get(row.unit, row.unit)
                _demand(same and told.amount == number(row.answer, self.words), OTHERWISE)

    def _of_row(self, asked: Question, row: Row) -> list[Told]:
        return [
            one
            for one in self._told(asked)
            if row.step == one.step and row.label == self._label(one, asked.station)
        ]

    def _label(self, told: Told, station: str) -> str:
        if not told.step:
            return f"+ {told.thing}"
        return told.thing if station else f"{told.step} · {told.thing}"

    def _of_size(self, asked: Question, row: Row) -> list[Told]:
        """What the card of a size tells of the thing that is asked about."""
        wish, (thing,) = self._wish(asked), asked.about
        keys = [
            key
            for key, view in self.cards.items()
            if isinstance(view, BuildCardView)
            and (view.title, view.size_name) == (wish.drink, row.label)
        ]
        (key,) = keys
        told = self._read(wish, key.subject, key.cup, asked.station)
        return [one for one in told if one.thing == thing]

    # steps ----------------------------------------------------------------------------------------

    def _changed(self, asked: Question) -> Iterator[int]:
        """The steps of the usual order that the card tells otherwise of the one with the swap."""
        usual = self._read(replace(self._wish(asked), swaps=()), asked.drink, asked.cup, "")
        before, now = (
            {x.step: (x.thing, x.amount, self.many.get(x.unit, x.unit)) for x in told}
            for told in (usual, self._told(asked))
        )
        yield from (at for at, step in enumerate(before) if now.get(step) != before[step])

    def _text(self, told: Told) -> str:
        into = f" ({self.words('in_vessel', vessel=told.vessel)})" if told.vessel else ""
        return told.thing + into

    def _wrong_line(self, asked: Question, form: Choose) -> int:
        """The one line that the card does not have, and that no other order has in its place."""
        steps = self._steps(asked)
        lines = [self._line(one.amount, one.unit, one.what) for one in steps]
        _demand(len(lines) == len(form.options), OTHERWISE)
        found = [at for at, text in enumerate(form.options) if self._plain(text) != lines[at]]
        _demand(len(found) == 1, OTHERWISE)
        (at,) = found
        _demand(self._plain(form.mend) == lines[at], OTHERWISE)
        others = self._other_orders(asked, steps[at])
        _demand(self._plain(form.options[at]) not in others, ANOTHER)
        return at

    def _other_orders(self, asked: Question, step: StepView) -> set[str]:
        """What a card tells at a step for whatever order: its tables, swaps and add-ons."""
        view = self._build(asked)
        things = [step.what, *(one.name for one in step.swaps), *(a.name for a in view.add_ons)]
        amounts = {(step.amount, step.unit)}
        amounts |= {(one.amount or step.amount, one.unit or step.unit) for one in step.swaps}
        amounts |= {(one.amount, one.unit) for one in view.add_ons}
        for table in view.amounts:
            if table.step == step.number:
                cells = (cell for row in table.rows for cell in row.amounts)
                amounts |= {(cell, table.unit) for cell in cells}
        return {self._line(*amount, thing) for amount in amounts for thing in things}

    def _line(self, amount: str, unit: str, what: str) -> str:
        return " ".join(filter(None, (amount, self.many.get(unit, unit), what)))

    def _plain(self, text: str) -> str:
        """A line with its unit as it is called of several, without the "to" before a level."""
        text = text.removeprefix(f"{self.words('to_line')} ")
        amount, _, rest = text.partition(" ")
        ones = sorted(self.many, key=len, reverse=True)
        one = next((unit for unit in ones if rest.startswith(f"{unit} ")), "")
        return f"{amount} {self.many[one]}{rest.removeprefix(one)}" if one else text

    # allergens and keeping ------------------------------------------------------------------------

    def _holds(self, drink: str, allergen: str) -> bool:
        """Whether a drink is marked as containing it, on the allergen sheet and its own cards."""
        (matrix,) = (one for one in self.cards.values() if isinstance(one, AllergenMatrixView))
        (column,) = (at for at, name in enumerate(matrix.allergens) if name == allergen)
        rows = [r for r in matrix.rows if r.name == drink or r.name.startswith(f"{drink} (")]
        marks = {row.marks[column] for row in rows}
        _demand(len(marks) == 1 and marks <= {"contains", "none-declared"}, UNDECIDED)
        told = {
            any(name == allergen or name.startswith(f"{allergen} (") for name in one)
            for view in self._builds()
            if view.title == drink
            for one in [view.allergens.contains]
        }
        _demand(told == {marks == {"contains"}}, OTHERWISE)
        return marks == {"contains"}

    def _good_until(self, name: str, begun: str = "") -> str:
        """Within how many days, or at which time of the same day, as the cards say it keeps."""
        found = set()
        for text in {text for view in self._builds() for text in view.keeps}:
            for key, unit in (("keeps_hours", "hours"), ("keeps_days", "count")):
                told = said(text, key, self.words)
                if told and told["name"] == name:
                    # Some languages have a word for one day or two, and no number then.
                    found.add((key, number(told.get(unit, ""), self.words)))
        ((key, count),) = found
        if key == "keeps_days":
            _demand(not begun, OTHERWISE)
            return self.words.number(count)
        hours, minutes = map(int, begun.split(":"))
        until = 60 * hours + minutes + round(60 * count)
        _demand(until < 24 * 60, OTHERWISE)
        return f"{until // 60:02}:{until % 60:02}"

    # the cards ------------------------------------------------------------------------------------

    def _wish(self, asked: Question) -> Wish:
        assert asked.wish is not None
        return asked.wish

    def _told(self, asked: Question) -> Sequence[Told]:
        """What the card of a question tells to do for its order."""
        return self._read(self._wish(asked), asked.drink, asked.cup, asked.station)

    def _read(self, wish: Wish, drink: str, cup: str, station: str) -> Sequence[Told]:
        if not station:
            view = self._view("build", drink, cup)
            assert isinstance(view, BuildCardView)
            return build_card(view, wish, self.words)
        card = self._view("station", station, cup)
        passed = self._passed(wish, cup)
        return [told for visit in passed if visit.card is card for told in visit.steps]

    def _passed(self, wish: Wish, cup: str) -> tuple[Visit, ...]:
        if (wish, cup) not in self._visits:
            cards = [v for k, v in self.cards.items() if k.cup == cup]
            of_stations = [one for one in cards if isinstance(one, StationCardView)]
            self._visits[wish, cup] = visits(of_stations, wish, self.words)
        return self._visits[wish, cup]

    def _steps(self, asked: Question) -> Sequence[StepView]:
        """The steps that the card of a question prints for the usual order."""
        if not asked.station:
            return self._build(asked).steps
        card = self._card(asked)
        passed = self._passed(self._wish(asked), asked.cup)
        rows = dict.fromkeys(visit.row for visit in passed if visit.card is card)
        return [step for row in rows for step in row.adds]

    def _card(self, asked: Question) -> BuildCardView | StationCardView:
        """The card a question is looked up on."""
        if not asked.station:
            return self._build(asked)
        view = self._view("station", asked.station, asked.cup)
        assert isinstance(view, StationCardView)
        return view

    def _build(self, asked: Question) -> BuildCardView:
        view = self._view("build", asked.drink, asked.cup)
        assert isinstance(view, BuildCardView)
        return view

    def _builds(self) -> Iterator[BuildCardView]:
        return (one for one in self.cards.values() if isinstance(one, BuildCardView))

    def _view(self, kind: str, subject: str, cup: str) -> View:
        return self.cards[CardKey(kind, subject, cup, self.words.language)]


def _demand(holds: bool, otherwise: str) -> None:
    if not holds:
        raise Ambiguous(otherwise)
