"""The first-day pack: it says what the cards say and nothing else, and what it draws is true."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from menu_samples import DEMO, SMALL, check_once, swapped
from print.pdf_reading import page_texts, pixels

from buildsheets import output
from buildsheets.learn.pack import BothNames, Cards, most_sold, pack
from buildsheets.menu.model import Menu
from buildsheets.print.checks import letters, texts_of
from buildsheets.print.layouts import Layouts
from buildsheets.print.render import RenderOptions
from buildsheets.views.types import (
    AllergenMatrixView,
    BuildCardView,
    CupDrawing,
    CupView,
    GaugeStripView,
    RackLine,
    SheetView,
    StationCardView,
    View,
)
from buildsheets.views.words import Words

SHOPS = Path(__file__).parent.parent / "menus" / "shops"
OPTIONS = RenderOptions(title="First day", language="en")


def words_of(menu: Menu, language: str = "") -> Words:
    layouts, first = Layouts(None), menu.shop.languages[0]
    own, wall = (layouts.words(one).measured_in(menu.shop)
                 for one in (language or first, first))  # fmt: skip
    return (
        own
        if own is wall or own == wall
        else BothNames(own.language, own.catalogue, own.volumes, beside=wall)
    )


@cache
def made(path: Path, language: str = "") -> tuple[Menu, Cards, tuple[View, ...]]:
    """A menu, its cards and its pack."""
    checked = check_once(path)
    assert checked.menu is not None
    assert not checked.stopped, checked.findings
    words = words_of(checked.menu, language)
    cards = output.composers_in(words, checked.menu, checked.servings)
    return checked.menu, cards, pack(checked.menu, cards, words)


def pack_of(folder: Path, text: str) -> tuple[Menu, Cards, tuple[View, ...]]:
    folder.mkdir(exist_ok=True)
    path = folder / f"menu-{len([*folder.iterdir()])}.yaml"
    path.write_text(text, "utf-8")
    return made(path)


def views(cards: Cards) -> Iterator[View]:
    return (view for compose in cards.values() if (view := compose()) is not None)


def page_of(pages: Iterable[View], code: str) -> View:
    (found,) = [one for one in pages if one.code == code]
    return found


MENUS = [
    (DEMO, "en"),
    (DEMO, "es"),
    *((path, "") for path in sorted(SHOPS.glob("*.yaml"))),
    (SHOPS / "us.yaml", "es"),
]
each_menu = pytest.mark.parametrize(
    ("path", "language"), MENUS, ids=[f"{path.stem}-{language}" for path, language in MENUS]
)


# the strings ------------------------------------------------------------------------------------


@each_menu
def test_every_string_of_the_pack_is_one_of_the_cards(path: Path, language: str) -> None:
    menu, cards, pages = made(path, language)
    words = words_of(menu, language)
    said = {text for view in views(cards) for text in texts_of(view)}
    said |= {words.name(one) for one in (*menu.stations.values(), *menu.drinks.values())}
    said.add(words.text(menu.shop.ask) if menu.shop.ask else "")
    said |= {
        words(key)
        for key in ("cautions", "prep_day_one_of_all", "prep_no_date", "learn_usual_means")
    }
    own = _own_words(words)
    for view in pages:
        for text in texts_of(replace(view, foot=type(view.foot)(), code="")):
            for line in text.split("\n"):
                assert _joined(line, said, own), (view.code, line)
    assert len(said) > 50


def _own_words(words: Words) -> re.Pattern[str]:
    """The pack's own words, with anything where a name stands in them but no number."""
    held = [value for key, value in words.catalogue.items() if key.startswith("pack_")]
    texts = [
        t for value in held for t in (value.values() if isinstance(value, Mapping) else [value])
    ]
    patterns = [re.sub(r"\\{(number|count)\\}", "[1-6]", re.escape(text)) for text in texts]
    patterns = [re.sub(r"\\{\w+\\}", r"[^0-9]+", one) for one in patterns]
    one_of = "|".join(patterns)
    return re.compile(rf"(?:{one_of})(?:\. (?:{one_of}))?")


def _joined(text: str, said: set[str], own: re.Pattern[str]) -> bool:
    """Whether a text is one or more of the cards' and the pack's own, joined by commas or dots."""
    if text in said or own.fullmatch(text):
        return True
    return any(
        (text[:at] in said or own.fullmatch(text[:at]))
        and _joined(text[at + len(apart) :], said, own)
        for apart in (", ", " · ")
        for at in (found.start() for found in re.finditer(re.escape(apart), text))
    )


@each_menu
def test_a_drink_is_made_on_its_page_as_on_its_card(path: Path, language: str) -> None:
    menu, cards, pages = made(path, language)
    chosen = {f"pack-{drink.id}": (drink.id, cup.id) for drink, cup in most_sold(menu)}
    assert chosen.keys() <= {view.code for view in pages}
    own = {"kind", "code", "foot", "gauge", "keeps", "subtitle",
           "reading_distance_mm", "width_mm", "height_mm"}  # fmt: skip
    for code, key in chosen.items():
        view, card = page_of(pages, code), cards["build", *key]()
        assert isinstance(view, BuildCardView)
        for field in fields(view):
            if field.name not in own:
                assert getattr(view, field.name) == getattr(card, field.name), field.name
        assert isinstance(card, BuildCardView)
        assert view.subtitle.startswith(f"{card.subtitle} · ")


@each_menu
def test_a_cup_has_the_lines_of_its_build_cards_each_with_its_own_level(
    path: Path, language: str
) -> None:
    menu, cards, pages = made(path, language)
    gauges = {cup for kind, _, cup in cards if kind == "gauge"}
    cups = {view.code: view for view in pages if isinstance(view, CupView)}
    assert cups.keys() == {f"pack-cup-{cup}" for cup in gauges}
    for cup in gauges:
        view = cups[f"pack-cup-{cup}"]
        heights = [row.line.height_mm for row in view.rows]
        assert heights == sorted(heights, reverse=True)
        assert [row.line.kind for row in view.rows if row.line.kind != "line"] == ["rim", "working"]
        for row, line in zip(view.rows, view.drawing.lines, strict=True):
            assert line.height_mm + menu.cups[cup].floor_mm == pytest.approx(row.line.height_mm)
            assert line.label == row.line.label
        levels = {(row.line.label.split()[0], drink) for row in view.rows for drink in row.drinks}
        assert not any(" / " in row.line.label for row in view.rows)
        builds = [one() for (kind, _, its), one in cards.items() if (kind, its) == ("build", cup)]
        told = {
            (step.amount.split()[0], build.title)
            for build in builds
            if isinstance(build, BuildCardView)
            for step in build.steps
            if step.kind == "line" and not step.vessel
        }
        assert levels == told


@each_menu
def test_a_line_stands_as_high_in_the_pack_as_the_gauge_card_says(
    path: Path, language: str
) -> None:
    """Read from both pages: "425 ml" stands as high as its mark, which may be "420 / 425 ml"."""
    _, cards, pages = made(path, language)
    compared = 0

    def levels(row: RackLine) -> list[str]:
        return re.sub(r" (ml|fl oz)$", "", row.line.label).split(" / ")

    for view in (one for one in pages if isinstance(one, CupView)):
        gauge = cards["gauge", "all", view.code.removeprefix("pack-cup-")]()
        assert isinstance(gauge, GaugeStripView)
        marks = {(one, r.height, r.line.height_mm) for r in gauge.rows for one in levels(r)}
        for row in view.rows:
            (level,) = levels(row)
            assert (level, row.height, row.line.height_mm) in marks
            compared += 1
    assert compared > 2


def test_drinks_made_in_the_shaker_are_said_to_have_no_line() -> None:
    medium = page_of(made(DEMO, "en")[2], "pack-cup-medium")
    assert isinstance(medium, CupView)
    assert medium.notes[1:] == (
        "The lines of the usual order. What a guest changes may change the line: the card says it.",
        "No line (made in: shaker): Frost Lemon Tea, Citrus Burst Jasmine",
    )
    assert ("420 ml", ("Cold Dock Coffee",)) in [(r.line.label, r.drinks) for r in medium.rows]


def test_the_list_of_cards_has_those_of_the_shop() -> None:
    names = [
        "Build card", "Station card", "Edge gauge", "Add-on card", "Batch card", "Allergen sheet",
        "Words on the cards",
    ]  # fmt: skip
    # the long menu has no batches; of the hot one nothing may be chosen
    shops = {
        DEMO: "",
        SHOPS / "long.yaml": "Batch card",
        SHOPS / "imperial-hot.yaml": "Add-on card",
    }
    for path, missing in shops.items():
        view = page_of(made(path, "en" if path == DEMO else "")[2], "pack-cards")
        assert isinstance(view, SheetView)
        assert [row[0] for row in view.tables[0].rows] == [one for one in names if one != missing]


def test_an_add_ons_own_amounts_stand_on_the_page_of_its_drink() -> None:
    """The card of the demo: 425 ml, with Parsnip cream 405 ml."""
    view = page_of(made(DEMO, "en")[2], "pack-marsh-milk-tea")
    assert isinstance(view, BuildCardView)
    (tea,) = [table for table in view.amounts if table.what == "Black tea"]
    assert [row.amounts for row in tea.rows] == [("405",), ("425",)]


def test_tools_and_words_are_those_of_the_card_of_words() -> None:
    _, cards, pages = made(DEMO, "en")
    card = cards["words", "all", ""]()
    assert isinstance(card, SheetView)
    told = [page_of(pages, code) for code in ("pack-tools", "pack-words")]
    tables = [table for view in told if isinstance(view, SheetView) for table in view.tables]
    left_out = [table.header[0] for table in card.tables if table not in tables]
    assert left_out == ["Stations"]  # which the counter's page has
    assert ("1 pump", "5 ml (syrup pump): Brown sugar syrup, Plain syrup, Honey syrup, "
            "Ginger syrup") in tables[0].rows  # fmt: skip


def test_each_station_does_what_its_cards_say() -> None:
    menu, cards, pages = made(DEMO, "en")
    counter = page_of(pages, "pack-counter")
    assert isinstance(counter, SheetView)
    rows = {row[0]: row for row in counter.tables[0].rows}
    # as most drinks pass them: the marks of a drink that passes all
    assert [*rows] == ["T", "S", "B", "F"]
    for id_, station in menu.stations.items():
        held = [
            one()
            for (kind, subject, _), one in cards.items()
            if (kind, subject) == ("station", id_)
        ]
        there = [row for view in held if isinstance(view, StationCardView) for row in view.rows]
        steps = {step.what for row in there for step in row.adds}
        extra = {one.name for row in there for one in row.add_ons if one.station == station.letter}
        extra |= {swap.name for row in there for step in row.adds for swap in step.swaps}
        assert {*rows[station.letter][2].split(" · ")} == steps | extra
    assert rows["T"][1:] == (
        "Toppings",
        "Tapioca pearls · Coconut jelly · Soaked basil seeds · Herb jelly · Sweet red beans · "
        "Citrus juice bursts",
        "Ice and shake",
    )
    assert rows["F"][3] == "the guest"
    assert rows["S"][3] == "Brew bar, Finish"
    assert rows["B"][3] == ("Finish\nback to Ice and shake: Frost Lemon Tea, Citrus Burst Jasmine")


def test_every_caution_and_allergen_of_the_cards_is_told() -> None:
    _, cards, pages = made(DEMO, "en")
    table = page_of(pages, "pack-cautions")
    assert isinstance(table, SheetView)
    told = {row[0]: row[1] for row in table.tables[0].rows}
    expected = {c for view in views(cards) for c in getattr(view, "cautions", ())
                if not isinstance(view, StationCardView)}  # fmt: skip
    assert told.keys() == expected
    assert told["Honey: never under 12 months."] == (
        "Citrus Burst Jasmine, Reed Bed Lemonade, Honey Lantern, Honey syrup (batch)"
    )
    assert told["Shared tools: wash them before an allergy order."] == "every drink"
    matrix, card = page_of(pages, "pack-allergens"), cards["allergens", "all", ""]()
    assert isinstance(matrix, AllergenMatrixView)
    assert isinstance(card, AllergenMatrixView)
    assert matrix == replace(card, code=matrix.code, foot=matrix.foot)
    assert matrix.foot.local_code_note == "Follow your local food code."


def test_names_of_the_wall_stand_beside_the_hires() -> None:
    drink = page_of(made(DEMO, "es")[2], "pack-boathouse-pearl")
    assert isinstance(drink, BuildCardView)
    assert drink.title == "Té con perlas Boathouse (Boathouse Pearl Tea)"
    assert drink.steps[0].what == "Perlas de tapioca (Tapioca pearls)"
    assert next(mark.name for mark in drink.stations) == "Complementos (Toppings)"
    plain = page_of(made(DEMO, "en")[2], "pack-boathouse-pearl")
    assert isinstance(plain, BuildCardView)
    assert plain.title == "Boathouse Pearl Tea"
    both, own = ([step.amount for step in one.steps] for one in (drink, plain))
    assert both == own


# which drinks, whom to ask ----------------------------------------------------------------------


def test_the_drinks_are_those_of_the_days_in_the_cup_sold_most() -> None:
    """Counted by hand in the demo's sales: 88, 64, 42, 32, 28 and 26 of a Saturday."""
    menu, _, pages = made(DEMO, "en")
    assert [(drink.id, cup.id) for drink, cup in most_sold(menu)] == [
        ("boathouse-pearl", "medium"), ("marsh-milk-tea", "medium"), ("jasmine-cloud", "medium"),
        ("frost-lemon", "medium"), ("marsh-dusk", "medium"), ("oolong-ember", "medium"),
    ]  # fmt: skip
    view = page_of(pages, "pack-frost-lemon")
    assert isinstance(view, BuildCardView)
    assert view.subtitle == "Medium · iced · Number 4 of the 6 drinks most sold"


def test_without_sales_they_are_the_first_of_the_menu_and_the_pack_says_so(tmp_path: Path) -> None:
    menu, _, pages = pack_of(tmp_path, SMALL[: SMALL.index("days:")])
    assert not menu.days
    assert [drink.id for drink, _ in most_sold(menu)] == [*menu.drinks][:6]
    view = page_of(pages, "pack-cloud")
    assert isinstance(view, BuildCardView)
    assert "of the first 2 drinks of the menu, which has no sales" in view.subtitle


def test_a_drink_of_which_no_sale_is_known_is_none_of_the_most_sold(tmp_path: Path) -> None:
    one = swapped(SMALL, "      - {drink: shaken, count: 4}\n", "")
    menu, _, pages = pack_of(tmp_path, one)
    assert [drink.id for drink, _ in most_sold(menu)] == ["cloud"]
    view = page_of(pages, "pack-cloud")
    assert isinstance(view, BuildCardView)
    assert view.subtitle.endswith("The drink most sold")
    menu, _, pages = pack_of(tmp_path, SMALL[: SMALL.index("    sales:")] + "    sales: []\n")
    assert [drink.id for drink, _ in most_sold(menu)] == [*menu.drinks][:6]
    view = page_of(pages, "pack-cloud")
    assert isinstance(view, BuildCardView)
    assert "of the first 2 drinks of the menu, which has no sales" in view.subtitle


def test_whom_to_ask_is_the_shops_word_or_a_line_to_write_on(tmp_path: Path) -> None:
    asked = SMALL.replace("  name: Corner kiosk\n", "  name: Corner kiosk\n  ask: whoever opens\n")
    for text, who in ((SMALL, ""), (asked, "whoever opens")):
        counter = page_of(pack_of(tmp_path, text)[2], "pack-counter")
        assert isinstance(counter, SheetView)
        assert ("Ask", who) in counter.tables[1].rows


def test_a_change_of_the_menu_changes_the_pack(tmp_path: Path) -> None:
    before = pack_of(tmp_path, SMALL)[2]
    edited = SMALL.replace("amount: 100 ml", "amount: 90 ml").replace("holds: 5 ml", "holds: 8 ml")
    after = pack_of(tmp_path, edited)[2]
    changed = [one.code for one, other in zip(before, after, strict=True) if one != other]
    # with 8 ml a pump the milk's level is no longer that of every order, so no word explains it
    assert changed == ["pack-tools", "pack-cloud", "pack-shaken", "pack-words"]
    tools = page_of(after, "pack-tools")
    assert isinstance(tools, SheetView)
    assert tools.tables[0].rows[1][1].startswith("8 ml")


# the print --------------------------------------------------------------------------------------


@pytest.mark.slow
@each_menu
def test_the_pack_prints_with_nothing_wrong_and_shows_all_it_says(
    path: Path, language: str
) -> None:
    _, _, pages = made(path, language)
    for view in pages:
        printed = output.print_views([view], replace(OPTIONS, language=view.language))
        assert printed.sound, printed.findings
        shown = letters("".join(page_texts(printed.pdf)))
        if isinstance(view, BuildCardView):  # whose drawing leaves out what its layers say
            view = replace(view, drawing=CupDrawing((), 0.0, 0.0, 0.0, (), (), ""))
        if isinstance(view, AllergenMatrixView):  # the proof looks for the signs in its cells
            view = replace(view, rows=tuple(replace(row, marks=()) for row in view.rows), legend=())
        for text in texts_of(view):
            for line in text.split("\n"):
                assert letters(line) in shown or _in_pieces(line, shown), (view.code, line)


def _in_pieces(text: str, shown: str) -> bool:
    """A text that wraps beside another is read in pieces; each of its words is there."""
    return all(letters(word) in shown for word in text.split())


def test_a_cup_is_drawn_as_large_as_it_is(tmp_path: Path) -> None:
    """Between lines of ink across the cup lie as many millimetres as between the heights that the
    gauge says; the foot is as wide as the base, which was typed as 58 mm."""
    _, _, pages = pack_of(tmp_path, SMALL)
    view = page_of(pages, "pack-cup-medium")
    assert isinstance(view, CupView)
    printed = output.print_views([view], OPTIONS)
    assert printed.sound, printed.findings
    dpi = 300.0
    dark = pixels(printed.pdf, dpi) < 128
    mm = 25.4 / dpi
    middle = round((5.0 + 0.5 + 91.0 / 2) / mm)  # the page's margin, the wall, half the rim
    column = dark[round(25 / mm) : round(200 / mm), middle]
    edges = np.flatnonzero(np.diff(column.astype(int)))
    inks = (edges[0::2] + edges[1::2]) / 2 * mm  # of each line that crosses the middle
    foot = inks[-1]
    heights = [foot - ink for ink in inks[:-1]]
    wanted = [row.line.height_mm for row in view.rows if row.line.kind == "line"]
    assert len(wanted) == 1
    assert min(abs(height - wanted[0]) for height in heights) < 0.25
    row = dark[round(25 / mm) + round(foot / mm)]
    ink = np.flatnonzero(row[: round(110 / mm)])
    assert (ink[-1] - ink[0]) * mm == pytest.approx(58.0 + 0.5, abs=0.3)


def test_a_bottle_higher_than_the_paper_has_the_next_larger_one(tmp_path: Path) -> None:
    _, _, pages = pack_of(tmp_path, swapped(SMALL, "height: 114 mm", "height: 240 mm"))
    view = page_of(pages, "pack-cup-medium")
    assert (view.width_mm, view.height_mm) == (297.0, 420.0)
    assert output.print_views([view], OPTIONS).sound
