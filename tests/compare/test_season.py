"""A season's changes told of the demo menu, held against the menus and views themselves: nothing
that changed is left out, nothing is told that did not."""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest
from command_samples import ROOT

from buildsheets import output
from buildsheets.compare.compare import (
    Comparison,
    compare,
    side_of_cards,
    side_of_edition,
)
from buildsheets.compare.report import Report, as_text, report_of
from buildsheets.ledger.edition_words import edition_words
from buildsheets.ledger.ledger import load
from buildsheets.ledger.publish import edition_cards, publish
from buildsheets.pipeline import Checked, check
from buildsheets.print.layouts import Layouts
from buildsheets.views.allergens import allergens_of
from buildsheets.views.card import Card, CardKey
from buildsheets.views.types import Allergens, BuildCardView, StationCardView

pytestmark = pytest.mark.slow

EN = edition_words(Layouts(), "en")
NEXT = (
    ("  code: W26\n", "  code: S27\n"),
    ("from: 2026-12-01", "from: 2027-03-01"),
    ("to: 2027-02-28", "to: 2027-05-31"),
    ("languages: [en, es]", "languages: [en]"),
    ("    until: 2027-01-06\n", ""),  # else its drink goes in every season told here
)
LOWER_LINE = (
    "medium: 80 ml, large: 120 ml}}\n"
    "      - {add: black-tea, fill_to: {small: 285 ml, medium: 425 ml",
    "medium: 80 ml, large: 120 ml}}\n"
    "      - {add: black-tea, fill_to: {small: 285 ml, medium: 410 ml",
)
OAT_FOR_MILK = ("{add: milk, fill_to: {small: 280 ml", "{add: oat, fill_to: {small: 280 ml")
LONGER_SHAKE = (
    "for: 10 s, station: shake}\n      - {do: lid, station: finish}\n  citrus",
    "for: 15 s, station: shake}\n      - {do: lid, station: finish}\n  citrus",
)
CAP_FOR_OAT_MIST = (
    "add_ons: [add-pearls, add-seeds]\n",
    "add_ons: [add-pearls, add-seeds, add-cap]\n",
)
LESS_CAP = (
    "topping: cap\n    amount: {small: 2 ladles", "topping: cap\n    amount: {small: 1 ladle",
)  # fmt: skip
NEW_NAME = ("{en: Oat Mist Oolong,", "{en: Oat Fog Oolong,")
MILK_IN_JELLY = (
    "es: Gelatina de coco}\n    contains: [sulphites]",
    "es: Gelatina de coco}\n    contains: [sulphites, milk]",
)
SOYA_IN_PEARLS = (
    "es: Perlas de tapioca secas}\n    contains: []\n    may_contain: [soybeans]",
    "es: Perlas de tapioca secas}\n    contains: [soybeans]",
)
NO_SMALL_CLOUD = (
    (
        "es: Jazmín bajo Nubes}\n    group: teas under cream\n    cups: [small, medium, large]",
        "es: Jazmín bajo Nubes}\n    group: teas under cream\n    cups: [medium, large]",
    ),
    ("{drink: jasmine-cloud, count: {small: 10, ", "{drink: jasmine-cloud, count: {"),
)
SEASONS = {
    "other amounts": [LOWER_LINE, OAT_FOR_MILK, LONGER_SHAKE],
    "an add-on newly offered": [CAP_FOR_OAT_MIST],
    "another amount and a size less": [LESS_CAP, *NO_SMALL_CLOUD],
    "a new name": [NEW_NAME],
    "other allergens": [MILK_IN_JELLY, SOYA_IN_PEARLS],
    "all at once": [LOWER_LINE, OAT_FOR_MILK, LONGER_SHAKE, CAP_FOR_OAT_MIST, LESS_CAP, NEW_NAME,
                    MILK_IN_JELLY, SOYA_IN_PEARLS, *NO_SMALL_CLOUD],
}  # fmt: skip


@dataclass(frozen=True)
class Season:
    """A menu before and after, its cards in English, and what is told of it."""

    menus: tuple[Checked, Checked]
    cards: tuple[dict[CardKey, Card], dict[CardKey, Card]]
    comparison: Comparison
    report: Report

    def texts(self) -> str:
        return as_text(self.report, EN)


def english(cards: tuple[Card, ...]) -> dict[CardKey, Card]:
    return {card.key: card for card in cards if card.key.language == "en"}


@dataclass(frozen=True)
class Before:
    """The demo in English alone, published."""

    menu: Path
    checked: Checked
    cards: tuple[Card, ...]


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> Before:
    menu = tmp_path_factory.mktemp("before") / "menu"
    shutil.copytree(ROOT / "menu", menu, ignore=shutil.ignore_patterns("editions"))
    edit(menu, NEXT[3:])  # the one language that is looked at, and no drink that goes by itself
    checked, cards = read(menu)
    assert checked.menu is not None
    publish(cards, menu / "editions", checked.menu.edition)
    return Before(menu, checked, cards)


@pytest.mark.parametrize("name", SEASONS)
def test_a_season_is_told_in_full_and_truly(name: str, before: Before, tmp_path: Path) -> None:
    season = season_of(SEASONS[name], before, tmp_path)
    every_drink_whose_allergens_changed_stands_first(season)
    what_an_add_on_brings_stands_first_with_its_drinks(season)
    drinks_told_as_new_and_gone_are_those_of_the_menus(season)
    every_changed_card_is_told_in_its_place(season)
    a_station_card_names_the_drinks_whose_rows_changed_and_no_other(season)


def season_of(edits: Sequence[tuple[str, str]], before: Before, folder: Path) -> Season:
    menu = folder / "menu"
    shutil.copytree(before.menu, menu)
    edit(menu, [*NEXT[:3], *edits])
    after, changed = read(menu)
    assert after.menu is not None
    ledger = load(menu / "editions")
    cards = edition_cards(changed, ledger, after.menu.edition)
    comparison = compare(side_of_edition(ledger, ledger.editions[0]), side_of_cards(cards))
    return Season(
        (before.checked, after),
        (english(before.cards), english(changed)),
        comparison,
        report_of(comparison, EN),
    )


def edit(menu: Path, edits: Sequence[tuple[str, str]]) -> None:
    for old, new in edits:
        (path,) = [p for p in menu.glob("*.yaml") if old in p.read_text("utf-8")]
        text = path.read_text("utf-8")
        assert text.count(old) == 1, old
        path.write_text(text.replace(old, new), "utf-8")


def read(menu: Path) -> tuple[Checked, tuple[Card, ...]]:
    checked = check(menu)
    assert not checked.stopped, checked.findings
    assert checked.menu is not None
    return checked, output.cards(checked.menu, checked.servings, Layouts(None))


def allergens(checked: Checked) -> dict[tuple[str, str], Allergens]:
    """By drink and size, as the menu's own figures have them."""
    assert checked.menu is not None
    words = Layouts(None).words("en")
    return {
        (serving.drink.name.in_language("en"), serving.cup.name.in_language("en")): allergens_of(
            checked.menu, serving, words
        )
        for serving in checked.servings
    }


def build_cards(cards: dict[CardKey, Card]) -> Iterator[BuildCardView]:
    return (card.view for card in cards.values() if isinstance(card.view, BuildCardView))


def lines_of(report: Report, kind: str, name: str, size: str) -> list[str]:
    """The lines of one card: of its kind's section, its group, its size."""
    return [
        line
        for section in report.changed
        if section.title == EN("changes_changed", kind=EN(f"kind_{kind}"))
        for group in section.groups
        if {name, EN("is_new", name=name)} & {*group.title.split(", ")}
        for line in group.lines
        if size in line.partition(": ")[0].split(", ") or not size
    ]


def every_drink_whose_allergens_changed_stands_first(season: Season) -> None:
    before, after = map(allergens, season.menus)
    for drink, size in before.keys() & after.keys():
        was, now = before[drink, size], after[drink, size]
        told = [line for line in season.report.safety if line.startswith(f"{drink}, ")]
        told = [line for line in told if size in line.partition(": ")[0].split(", ")]
        for field, words in (("contains", "now contains"), ("may_contain", "now may contain")):
            for allergen in {*getattr(now, field)} - {*getattr(was, field)}:
                assert any(f"{words} {allergen}" in line for line in told), (drink, size, allergen)
        every = [{*told_of.contains, *told_of.may_contain} for told_of in (was, now)]
        for allergen in every[0] - every[1]:
            assert any(f"{allergen}: no longer declared" in line for line in told)
        if was == now:
            assert not any("contain" in line.partition(": ")[2] for line in told
                           if "may be ordered with" not in line)  # fmt: skip


def what_an_add_on_brings_stands_first_with_its_drinks(season: Season) -> None:
    before = {
        (view.title, view.size_name or view.cup_name): view for view in build_cards(season.cards[0])
    }
    for view in build_cards(season.cards[1]):
        was = before.get((view.title, view.size_name or view.cup_name))
        if was is None:
            continue
        had = {add_on.name: add_on.allergens for add_on in was.add_ons}
        for add_on in view.add_ons:
            if add_on.name not in had:
                wanted = f"may be ordered with {add_on.name}: {add_on.allergens[:1].lower()}"
                assert any(
                    line.startswith(f"{view.title}, ") and wanted in line
                    for line in season.report.safety
                )
            elif had[add_on.name] != add_on.allergens:
                assert any(
                    line.startswith(f"{add_on.name} as an add-on ") and view.title in line
                    for line in season.report.safety
                )


def drinks_told_as_new_and_gone_are_those_of_the_menus(season: Season) -> None:
    names = [{(v.title, v.size_name) for v in build_cards(cards)} for cards in season.cards]
    keys = [{k for k in cards if k.kind == "build"} for cards in season.cards]
    for told, here, there in ((season.report.new, 1, 0), (season.report.withdrawn, 0, 1)):
        wanted = {
            (season.cards[here][key].view.title, season.cards[here][key].view.size_name)  # type: ignore[union-attr]
            for key in keys[here] - keys[there]
        }
        assert {(name, size) for name, size in names[here] if any(
            line.startswith(f"{name}, ") and size in line.split(", ") for line in told
        )} == wanted  # fmt: skip


def every_changed_card_is_told_in_its_place(season: Season) -> None:
    changed = [c for c in season.comparison.cards if c.before and c.after]
    assert changed
    for card in changed:
        if card.key.language == "en":
            assert lines_of(season.report, card.key.kind, card.name, card.size), card.entry.label
    assert "drawing or colour" not in season.texts().lower()


def a_station_card_names_the_drinks_whose_rows_changed_and_no_other(season: Season) -> None:
    every = {view.title for cards in season.cards for view in build_cards(cards)}
    for key, card in season.cards[1].items():
        old = season.cards[0].get(key)
        if not isinstance(card.view, StationCardView) or old is None:
            continue
        assert isinstance(old.view, StationCardView)
        was, now = ({(row.drink, row) for row in view.rows} for view in (old.view, card.view))
        differ = {drink.partition(" · ")[0] for drink, _ in was ^ now}
        lines = lines_of(season.report, "station", card.view.station.name, size_of(card.view))
        named = {name for name in every if any(name in line for line in lines)}
        before = {view.title for view in build_cards(season.cards[0])}
        after = {view.title for view in build_cards(season.cards[1])}
        renamed = differ - after if len(before) == len(after) else set()
        assert named == differ - renamed


def size_of(view: StationCardView) -> str:
    return view.size_name or view.cup_name.partition(" · ")[0]
