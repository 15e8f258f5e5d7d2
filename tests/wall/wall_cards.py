"""A checked menu goes in; all cards that an order may touch, in one language, come out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from wall_pages import Section, phone_page, templates

from buildsheets.cli.told import wish_of
from buildsheets.cup.scan import choices
from buildsheets.cup.serving import Choice, Serving
from buildsheets.menu.model import Menu
from buildsheets.pipeline import Checked
from buildsheets.print.layouts import Layouts
from buildsheets.views import addons, build, gauge, station
from buildsheets.views.types import BuildCardView, GaugeStripView, SheetView, StationCardView
from buildsheets.views.words import Words
from buildsheets.wall.reading import Wish

SITE = templates()


@dataclass(frozen=True)
class Wall:
    """All cards of a menu that an order may touch, in one language."""

    menu: Menu
    words: Words
    servings: tuple[Serving, ...]
    build: dict[tuple[str, str], BuildCardView] = field(default_factory=dict)
    station: dict[str, list[StationCardView]] = field(default_factory=dict)
    add_ons: dict[str, SheetView | None] = field(default_factory=dict)
    gauge: dict[str, GaugeStripView | None] = field(default_factory=dict)
    pages: dict[int, list[Section]] = field(default_factory=dict)

    @classmethod
    def of(cls, checked: Checked, language: str = "") -> Wall:
        menu = checked.menu
        assert menu is not None
        words = Layouts().words(language or menu.shop.languages[0]).measured_in(menu.shop)
        wall, servings = cls(menu, words, checked.servings), checked.servings
        for one in servings:
            wall.build[one.drink.id, one.cup.id] = build.build_view(menu, one, words)
        for cup in menu.cups.values():
            cards = (
                station.station_view(menu, at, cup, servings, words)
                for at in menu.stations.values()
            )
            wall.station[cup.id] = [card for card in cards if card is not None]
            wall.add_ons[cup.id] = addons.addons_view(menu, cup, servings, words)
            wall.gauge[cup.id] = gauge.gauge_view(menu, cup, servings, words)
        return wall

    def page(self, view: BuildCardView | StationCardView) -> list[Section]:
        """The card's phone page, made once."""
        if id(view) not in self.pages:
            self.pages[id(view)] = phone_page(view, SITE)
        return self.pages[id(view)]

    def wish(self, serving: Serving, choice: Choice) -> Wish:
        """The order in the words that are printed for it."""
        return wish_of(serving.drink, choice, self.words)


def orders(serving: Serving) -> Iterator[Choice]:
    """Every order a guest can place of a drink in a cup."""
    return choices(serving.drink, serving.cup)
