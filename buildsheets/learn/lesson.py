"""A checked menu, its servings and its cards go in; what a lesson is made of, in one language, out.

A lesson knows each drink twice: as it was figured, for whoever makes questions, and as the cards
say it, for whoever answers them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from buildsheets.cup.scan import choices
from buildsheets.cup.serving import Choice, Serving, StepFigure
from buildsheets.learn.questions import Source
from buildsheets.menu.model import AddStep, Drink, Menu
from buildsheets.views.allergens import allergen_name
from buildsheets.views.build import what_of
from buildsheets.views.card import Card, CardKey, label
from buildsheets.views.rounding import counted_in, measured, unit
from buildsheets.views.types import BuildCardView, View
from buildsheets.views.words import Words
from buildsheets.wall.reading import Wish

KINDS = ("build", "station", "allergens")
"""The kinds of card that questions are looked up on."""


class Line(NamedTuple):
    """One step of an order as the cards print it: its number there, 0 for an add-on; "" for the
    amount of what is done and not added. ``many`` is the unit of whatever amount: it tells none."""

    step: int
    what: str
    amount: str
    unit: str
    many: str
    to: str  # "to" before a line
    figure: StepFigure

    @property
    def is_extra(self) -> bool:
        """Whether a guest asked for it: an add-on or a swap."""
        step = self.figure.step
        return not self.step or (isinstance(step, AddStep) and step.swap is not None)

    @property
    def printed(self) -> str:
        """Its amount: "4 pumps", "to 425 ml line"."""
        return " ".join(filter(None, (self.to, self.amount, self.unit)))

    @property
    def text(self) -> str:
        """All of it: "4 pumps Plain syrup", "Stir"."""
        return f"{self.printed} {self.what}".strip()


@dataclass(frozen=True)
class Lesson:
    """What is sold, in a reader's language, and the cards that say it."""

    menu: Menu
    servings: tuple[Serving, ...]  # each drink in each cup, as nobody asked to change it
    words: Words
    cards: Mapping[CardKey, View]

    @classmethod
    def of(
        cls, menu: Menu, servings: Sequence[Serving], words: Words, cards: Sequence[Card]
    ) -> Lesson:
        """The lesson of cards with their codes on them; those of other languages are left out."""
        own = {one.key: one.view for one in cards if one.key.language == words.language}
        return cls(menu, tuple(one for one in servings if menu.sells(one.drink)), words, own)

    @property
    def draft(self) -> str:
        """The mark of a draft, where a card has it."""
        return next((view.watermark for view in self.cards.values() if view.watermark), "")

    def build(self, serving: Serving) -> BuildCardView:
        """The build card of a drink in a cup."""
        view = self.cards[self._key("build", serving.drink.id, serving.cup.id)]
        assert isinstance(view, BuildCardView)
        return view

    def source(self, kind: str, subject: str, cup: str) -> Source:
        """What a card is looked up by."""
        view = self.cards[self._key(kind, subject, cup)]
        return Source(view.foot.code, label(view))

    def _key(self, kind: str, subject: str, cup: str) -> CardKey:
        return CardKey(kind, subject, cup, self.words.language)

    @property
    def many(self) -> dict[str, str]:
        """What several are called, by what one of them is: pumps by pump."""
        tools = self.menu.tools.values()
        return {unit(self.words, tool, 1.0): unit(self.words, tool, 2.0) for tool in tools}

    def at(self, station: str) -> Iterator[Serving]:
        """The drinks and cups that pass a station as they are usually made; all for ""."""
        for serving in self.servings:
            here = [f for f in serving.steps if f.step.station and f.step.station.id == station]
            if here or not station:
                yield serving

    def orders(self, serving: Serving) -> Iterator[Serving]:
        """Every order of a drink in a cup that is made."""
        for choice in choices(serving.drink, serving.cup):
            if (made := serving.choices[choice]).verdict != "too-much":
                yield made

    def level(self, order: Serving) -> int:
        """1 for an order as it is usually made, 2 for one with other sweetness or ice, 3 for one
        with one add-on or swap; 0 for any other."""
        choice, default = order.choice, order.choices.default
        extras = len(choice.add_ons) + len(choice.swaps)
        usual = (choice.sweetness, choice.ice) == (default.sweetness, default.ice)
        if not extras:
            return 1 if usual else 2
        return 3 if usual and extras == 1 else 0

    def lines(self, order: Serving, station: str = "") -> list[Line]:
        """The steps of an order, or those of a station, as the cards print them."""
        found, number = [], 0
        for figure in order.steps:
            number += figure.add_on is None
            extra, at = figure.add_on, figure.step.station
            what = self.words.name(extra) if extra else what_of(order, figure, self.words)
            if station and (at is None or at.id != station):
                continue
            amount = counted = to = ""
            if figure.used is not None:
                amount, counted, _ = measured(figure, self.words)
                to = self.words("to_line") if figure.used.to_line_ml is not None else ""
            many, step = counted_in(figure, self.words) or counted, 0 if figure.add_on else number
            counted = many if amount == "0" else counted
            found.append(Line(step, what, amount, counted, many, to, figure))
        return found

    def wish(self, order: Serving) -> Wish:
        """An order in the words that are printed for it."""
        return wish_of(order.choices.build.drink, order.choice, self.words)

    def named(self, order: Serving) -> tuple[str, str]:
        """What an order is called: its drink and size, then what was chosen."""
        wish = self.wish(order)
        chosen = ", ".join(filter(None, (wish.sweetness, wish.ice, *wish.swaps, *wish.add_ons)))
        usual = order.choice == order.choices.default or not chosen
        title = f"{wish.drink}, {self.words.name(order.cup)}"
        return title, self.words("learn_usual") if usual else chosen

    def allergens(self) -> list[tuple[str, str]]:
        """Each allergen of the shop's list: its id and its printed name."""
        return [
            (id_, allergen_name(self.words, self.menu, id_)) for id_ in self.menu.shop.allergens
        ]


def wish_of(drink: Drink, choice: Choice, words: Words) -> Wish:
    """An order in the words that are printed for it."""
    name = {add_on.id: words.name(add_on) for add_on in drink.add_ons}
    ice = drink.ice.names[choice.ice] if drink.ice and choice.ice is not None else None
    return Wish(
        words.name(drink),
        "" if choice.sweetness is None else words.percent(choice.sweetness),
        words.text(ice) if ice else "",
        tuple(name[id] for id in choice.add_ons),
        tuple(words.name(swap) for swap in drink.swaps if swap.id in choice.swaps),
    )
