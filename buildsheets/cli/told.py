"""A checked menu goes in; what the cards on its wall tell to do for an order comes out.

The cards are composed as they are printed and then read as a person reads them; nothing here is
taken from the figures.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from buildsheets.cup.serving import Serving, StepFigure
from buildsheets.learn.lesson import wish_of
from buildsheets.ledger.codes import assign
from buildsheets.ledger.ledger import load
from buildsheets.menu.model import AddStep, Menu
from buildsheets.place import Place
from buildsheets.print.layouts import LayoutMissing
from buildsheets.views import rounding
from buildsheets.views.build import build_view
from buildsheets.views.card import CardKey
from buildsheets.views.station import station_view
from buildsheets.views.types import BuildCardView, StationCardView
from buildsheets.views.words import Words
from buildsheets.wall.reading import LINE_WORD, NotMade, Told, build_card, visits


@dataclass(frozen=True, slots=True)
class CardTold:
    """What one card tells to do for an order; ``instead`` is what it says where it tells nothing.

    ``station`` is the letter of a station card's station, "" for other cards.
    """

    code: str
    kind: str
    station: str
    steps: tuple[Told, ...] = ()
    instead: str = ""


@dataclass(frozen=True)
class Wall:
    """The cards of a menu in one language."""

    menu: Menu
    servings: tuple[Serving, ...]
    words: Words
    place: Place
    _printed: dict[tuple[str, str], tuple[BuildCardView, dict[str, StationCardView]]] = field(
        default_factory=dict, repr=False
    )

    @classmethod
    def of(cls, menu: Menu, servings: tuple[Serving, ...], path: Path, language: str = "") -> Wall:
        """The wall of a menu given as a folder or as one file, in a language of the shop.

        Raises ``ValueError`` for a language it has no cards in.
        """
        place = Place.of(path)
        spoken = menu.shop.language_of(language)
        try:
            words = place.layouts.words(spoken).measured_in(menu.shop)
        except LayoutMissing as missing:
            raise ValueError(str(missing)) from None
        return cls(menu, servings, words, place)

    def cards(self, serving: Serving) -> list[CardTold]:
        """What the build card and the station cards tell for an order, as the stations stand."""
        words = self.words
        wish = wish_of(serving.choices.build.drink, serving.choice, words)
        drink, size = serving.drink.id, serving.cup.id
        if (drink, size) not in self._printed:
            self._printed[drink, size] = self._compose(serving.choices[serving.choices.default])
        build, stations = self._printed[drink, size]
        code = self._codes[CardKey("build", drink, size, words.language)]
        try:
            found = [CardTold(code, "build", "", build_card(build, wish, words))]
        except (NotMade, ValueError) as said:
            found = [CardTold(code, "build", "", instead=str(said))]
        try:
            for visit in visits([*stations.values()], wish, words):
                letter = visit.card.station.letter
                at = next(id for id, view in stations.items() if view is visit.card)
                code = self._codes[CardKey("station", at, size, words.language)]
                found.append(CardTold(code, "station", letter, visit.steps))
        except (NotMade, ValueError) as said:
            found.append(CardTold("", "station", "", instead=str(said)))
        return found

    def _compose(self, usual: Serving) -> tuple[BuildCardView, dict[str, StationCardView]]:
        """The build card of a drink in a cup, and the station cards it stands on with its rows
        alone: what a row tells does not hang on its neighbours."""
        views = {
            station.id: station_view(self.menu, station, usual.cup, [usual], self.words)
            for station in self.menu.stations.values()
        }
        stations = {id: view for id, view in views.items() if view is not None}
        return build_view(self.menu, usual, self.words), stations

    def figured(self, figure: StepFigure) -> Told:
        """A step of the engine in the fields of a told one: ids for names, nothing rounded."""
        step, used, words = figure.step, figure.used, self.words
        letter = step.station.letter if step.station else ""
        into = step.into if isinstance(step, AddStep) else "cup"
        level_ml = figure.state.seen_ml if into == "cup" else figure.shaker_ml
        if not isinstance(step, AddStep) or used is None:
            action = str(getattr(step, "action", ""))
            return Told(figure.number, action, None, "", level_ml, "", letter)
        thing = figure.add_on.id if figure.add_on else step.component.id
        vessel = "" if into == "cup" else words(into)
        if used.to_line_ml is not None:
            amount, unit = used.to_line_ml / words.volumes.ml, words(LINE_WORD)
        elif used.count is not None and step.tool is not None:
            amount, unit = used.count, words.text(step.tool.many or step.tool.one or step.tool.name)
        elif step.component.by_volume(step.tool):
            marks = rounding.marks_of(step.tool, words)
            amount, unit = used.volume_ml / marks.ml, words(marks.word, n="").strip()
        else:
            amount, unit = used.mass_g, "g"
        return Told(figure.number, thing, amount, unit, level_ml, vessel, letter)

    @cached_property
    def one(self) -> dict[str, str]:
        """What one of several is called: pump of pumps, scoop of × scoop."""
        return {
            rounding.unit(self.words, tool, 2.0): rounding.unit(self.words, tool, 1.0)
            for tool in self.menu.tools.values()
        }

    @cached_property
    def _codes(self) -> dict[CardKey, str]:
        """The code of each build and station card: that of the ledger, or the one it will have."""
        ledger = load(self.place.ledger)
        known = {e.key: e.code for edition in ledger.editions for e in edition.entries}
        keys = [
            CardKey(kind, subject, cup, language)
            for language in self.menu.shop.languages
            for kind, subject, cup in self._cards()
        ]
        new = [key for key in keys if key not in known]
        return {**known, **assign(new, taken=set(known.values()))}

    def _cards(self) -> list[tuple[str, str, str]]:
        builds = [("build", one.drink.id, one.cup.id) for one in self.servings]
        stations = [
            ("station", station, cup) for station in self.menu.stations for cup in self.menu.cups
        ]
        return builds + stations
