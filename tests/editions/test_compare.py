"""What changed, in words: each kind of change, the order told, and what to print and pull."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from edition_samples import AUTUMN, FOOT, STEPS, WINTER, build, published, station, step, with_steps
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.cards.layouts import Layouts
from buildsheets.cards.prep_views import (
    AllergenMatrixView,
    BatchCardView,
    MatrixRow,
    PartView,
    PrepStepView,
)
from buildsheets.cards.views import Allergens
from buildsheets.core.cardkey import CardKey
from buildsheets.editions import ledger
from buildsheets.editions.cards import Card
from buildsheets.editions.changes import What, changes_between
from buildsheets.editions.compare import Comparison, compare, side_of_edition, side_of_plan
from buildsheets.editions.publish import plan_revisions
from buildsheets.editions.said import said
from buildsheets.editions.wording import as_json, as_text, change_text, tell, without_common
from buildsheets.editions.words import edition_words

EN = edition_words(Layouts(), "en")


def told(before: Card, after: Card, language: str = "en") -> list[str]:
    words = edition_words(Layouts(), language)
    return [change_text(c, words) for c in changes_between(said(before.view), said(after.view))]


def between(folder: Path, before: Sequence[Card], after: Sequence[Card]) -> Comparison:
    published(folder, before, AUTUMN)
    published(folder, after, WINTER)
    book = ledger.load(folder)
    return compare(*(side_of_edition(book, edition) for edition in book.editions))


def altered(**fields: Any) -> Card:
    card = build()
    return Card(card.key, replace(card.view, **fields))  # type: ignore[type-var]


@pytest.mark.parametrize(
    ("steps", "lines"),
    [
        ([STEPS[0], replace(STEPS[1], line="to 230 ml")], ["Black tea to 230 ml, was 250"]),
        ([STEPS[0], replace(STEPS[1], amount="60")], ["Black tea 60 ml, was 120"]),
        (
            [STEPS[0], replace(STEPS[1], amount="140", line="to 270 ml")],
            ["Black tea 140 ml, was 120; to 270 ml, was 250"],
        ),
        (
            [replace(STEPS[0], amount="1", unit="pump"), STEPS[1]],
            ["Brown sugar syrup 1 pump, was 3 pumps"],
        ),
        ([*STEPS[:2], step(3, "Cocoa", "0.3", "g")], ["New step: Cocoa 0.3 g"]),
        ([STEPS[0]], ["Step gone: Black tea 120 ml, to 250 ml"]),
        ([STEPS[1], STEPS[0]], ["Black tea is now step 1, was step 2"]),
        ([replace(STEPS[0], note="level"), STEPS[1]], ["Brown sugar syrup note now level"]),
        (
            [STEPS[0], replace(STEPS[1], tool="")],
            ["Black tea tool no longer jigger 2 × 60 ml"],
        ),
        (
            [replace(STEPS[0], station="Top"), STEPS[1]],
            ["Brown sugar syrup station Top, was Tea"],
        ),
    ],
)
def test_changes_of_steps_are_said_as_a_shop_says_them(steps: Any, lines: list[str]) -> None:
    assert told(build(steps=STEPS[:2]), build(steps=steps)) == lines


def test_allergens_come_first_and_nothing_is_ever_promised() -> None:
    after = build(contains=("milk", "sesame"), steps=STEPS[:3])
    assert told(build(), after) == [
        "Now contains sesame",
        "Step gone: Cream cap 50 ml, to 430 ml",
    ]
    gone = told(build(), build(contains=()))
    assert gone[0] == "Milk is no longer declared as contained; still ask before serving"
    assert "free" not in " ".join(gone)


def test_an_allergen_that_moves_from_possible_to_contained_is_told_both_ways() -> None:
    view: Any = build(contains=()).view
    possible = replace(view.allergens, may_contain=("milk",))
    before = Card(build().key, replace(view, allergens=possible))
    assert told(before, build())[:2] == [
        "Now contains milk",
        "Milk is no longer declared as possible; still ask before serving",
    ]


def test_other_texts_tables_and_marks() -> None:
    view: Any = build().view
    rows = (view.options.rows[0], ("50 %", "2", "1"))
    gauge = (replace(view.gauge[0], height_mm=80.0), view.gauge[1])
    assert told(build(), altered(finish="Flat lid, 6 mm left")) == [
        "Finish Flat lid, 6 mm left, was 8"
    ]
    assert told(build(), altered(options=replace(view.options, rows=rows))) == [
        "Options: 50 % · 2 · 1, was 1½"
    ]
    assert told(build(), altered(gauge=gauge)) == ["Edge gauge: 250 ml 80.0 mm, was 82.4"]
    assert told(build(), build(cautions=("Honey: not under 12 months",))) == [
        "Take care now Honey: not under 12 months"
    ]
    assert told(build(), altered(gauge_floor_mm=5.0)) == ["Drawing or colour changed"]


def test_a_station_card_names_the_drink() -> None:
    assert told(station(), station(leaves="400 ml")) == [
        "Lantern milk tea: leaves at 400 ml, was 380"
    ]


TITLES = ("Lantern milk tea", "Amber tea")


def test_the_whole_list(tmp_path: Path) -> None:
    fix = (STEPS[0], replace(STEPS[1], amount="140", line="to 270 ml"), *STEPS[2:])
    medium: Any = {"cup": "medium", "cup_name": "Medium"}
    comparison = between(
        tmp_path,
        [build(), build(**medium), build("amber", "Amber tea"), build("old", "Old tea"), station()],
        [
            build(steps=fix, contains=("milk", "soy")),
            build(**medium, steps=fix),
            build("amber", "Amber tea"),
            build("dusk", "Dusk tea", contains=()),
            station(),
        ],
    )
    codes = {(c.name, c.size): (c.after or c.before).code for c in comparison.cards}  # type: ignore[union-attr]
    large, medium_code = codes["Lantern milk tea", "Large"], codes["Lantern milk tea", "Medium"]
    dusk, old = codes["Dusk tea", "Large"], codes["Old tea", "Large"]
    assert as_text(tell(comparison, EN), EN) == (
        "What changed from A26 (Autumn 2026) to W26 (Winter 2026)\n"
        "\n"
        "ALLERGENS FIRST\n"
        "  Lantern milk tea, Large: Now contains soy\n"
        "\n"
        "Changed\n"
        "  Lantern milk tea\n"
        "    Large, Medium: Black tea 140 ml, was 120; to 270 ml, was 250\n"
        "\n"
        "New\n"
        "  Dusk tea, Large\n"
        "\n"
        "No longer on the menu\n"
        "  Old tea, Large\n"
        "\n"
        "Print and hang up\n"
        + "".join(
            f"  {place}\n"
            f"    {dusk}  revision 1  Dusk tea, Large\n"
            f"    {large}  revision 2  Lantern milk tea, Large\n"
            f"    {medium_code}  revision 2  Lantern milk tea, Medium\n"
            for place in ("Tea", "Top")
        )
        + "\n"
        "Take down\n"
        + "".join(
            f"  {place}\n"
            f"    {large}  revision 1  Lantern milk tea, Large\n"
            f"    {medium_code}  revision 1  Lantern milk tea, Medium\n"
            f"    {old}  revision 1  Old tea, Large\n"
            for place in ("Tea", "Top")
        )
    )
    data = as_json(comparison, EN)
    assert json.loads(json.dumps(data)) == json.loads(json.dumps(data, sort_keys=True))
    assert [card["status"] for card in data["cards"]] == ["new", "changed", "changed", "withdrawn"]
    assert data["pull"]["Top"] == [
        {"code": code, "revision": 1} for code in (large, medium_code, old)
    ]


def test_an_old_edition_is_compared_without_its_menu_and_with_todays(tmp_path: Path) -> None:
    published(tmp_path, [build()], AUTUMN)
    book = ledger.load(tmp_path)
    plan = plan_revisions([build(contains=("milk", "egg"))], book, WINTER)
    comparison = compare(side_of_edition(book, book.editions[0]), side_of_plan(plan))
    assert tell(comparison, EN).allergens == ("Lantern milk tea, Large: Now contains egg",)


def test_nothing_changed_says_so(tmp_path: Path) -> None:
    comparison = between(tmp_path, [build()], [build()])
    assert "Nothing changed" in as_text(tell(comparison, EN), EN)


def test_two_languages_are_told_once_but_both_cards_are_reprinted(tmp_path: Path) -> None:
    def both(cap: str) -> list[Card]:
        steps = (*STEPS[:3], replace(STEPS[3], amount=cap))
        return [build(steps=steps), build(steps=steps, language="es", title="Té farol")]

    told_now = tell(between(tmp_path, both("50"), both("60")), EN)
    assert [group.title for group in told_now.drinks] == ["Lantern milk tea"]
    assert len(told_now.reprint[0].lines) == 2
    assert any("[es]" in line for line in told_now.reprint[0].lines)


@pytest.mark.parametrize("language", ["en", "es", "fr", "de"])
def test_every_language_has_every_word(language: str) -> None:
    assert edition_words(Layouts(), language).language == language
    catalogue = edition_words(Layouts(), language).catalogue
    assert set(catalogue) == set(EN.catalogue)
    for key, text in catalogue.items():
        values = [set(re.findall(r"{\w+}", either)) for either in (text, EN.catalogue[key])]
        assert values[0] == values[1], key


STEP_LISTS = st.lists(
    st.builds(step, st.just(0), st.sampled_from("abcd"), st.sampled_from("12"), st.just("ml")),
    max_size=6,
)


@given(STEP_LISTS, STEP_LISTS)
def test_every_difference_in_steps_is_told_and_nothing_else(before: Any, after: Any) -> None:
    old, new = said(with_steps(build(), *before).view), said(with_steps(build(), *after).view)
    found = changes_between(old, new)
    if [(s.what, s.amount) for s in before] == [(s.what, s.amount) for s in after]:
        assert [c.what for c in found] == [What.LOOK]
        return
    assert What.LOOK not in [c.what for c in found]
    came = sum(c.what is What.STEP_ADDED for c in found)
    went = sum(c.what is What.STEP_REMOVED for c in found)
    assert came - went == len(after) - len(before)


@given(st.text(alphabet="ab ", max_size=8), st.text(alphabet="ab ", max_size=8))
def test_what_is_said_of_was_is_a_stretch_of_it_and_enough_to_tell(was: str, now: str) -> None:
    said_of_it = without_common(was, now).split()
    words = was.split()
    stretches = [words[a:b] for a in range(len(words) + 1) for b in range(a, len(words) + 1)]
    assert said_of_it in stretches
    assert said_of_it or not words


def matrix(*marks: str) -> Card:
    view = AllergenMatrixView(
        kind="allergens", language="en", code="", title="Allergens", allergens=("milk", "soy"),
        rows=(MatrixRow("Lantern milk tea", marks),), letters=("C", "M"),
        legend=("contains", "may contain", "NOT DECLARED", "none declared"), notes=(), foot=FOOT,
        reading_distance_mm=600.0, width_mm=297.0, height_mm=210.0,
    )  # fmt: skip
    return Card(CardKey("allergens", "wall", "", "en"), view)


def test_the_allergen_wall_sheet_is_compared_mark_by_mark_and_counts_as_allergens() -> None:
    before, after = matrix("contains", "none-declared"), matrix("contains", "may-contain")
    found = changes_between(said(before.view), said(after.view))
    assert [change_text(change, EN) for change in found] == [
        "Lantern milk tea: soy may contain, was none declared"
    ]
    assert found[0].what is What.ALLERGEN_ADDED


def test_a_batch_card_names_the_ingredient() -> None:
    def batch(cream: str, setting: str) -> Card:
        view = BatchCardView(
            kind="batch", language="en", code="", title="Cream cap", scale="full", factor="× 1",
            parts=(PartView("300", "g", "Milk", ""), PartView(cream, "g", "Cream", "1 pack")),
            steps=(PrepStepView(1, "Whisk", setting),), gives="1.2 l", figures=(), portions=None,
            scaling=None, equipment=("whisk",), allergens=Allergens(("milk",), (), ""), paths=(),
            cautions=(), keeps=("7 days",), foot=FOOT, reading_distance_mm=600.0,
            width_mm=148.0, height_mm=210.0,
        )  # fmt: skip
        return Card(CardKey("batch", "cream-cap", "full", "en"), view)

    assert told(batch("500", "low, 20 s"), batch("450", "low, 15 s")) == [
        "Whisk setting low, 15 s, was 20",
        "Cream: amount 450, was 500",
    ]
