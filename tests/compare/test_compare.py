"""What changed, in words: each kind of change, the order told, and what to print and pull."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from edition_samples import (
    AUTUMN,
    FOOT,
    STEPS,
    TEA,
    TOP,
    WINTER,
    build,
    published,
    station,
    step,
    with_steps,
)
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.cli.edition_results import compared
from buildsheets.cli.plain_data import told
from buildsheets.compare.change import Change, What
from buildsheets.compare.changes import changes_between
from buildsheets.compare.compare import Comparison, compare, side_of_cards, side_of_edition
from buildsheets.compare.report import as_text, report_of
from buildsheets.compare.sentences import sentence, without_common
from buildsheets.ledger.card_texts import card_texts
from buildsheets.ledger.edition_words import edition_words
from buildsheets.ledger.ledger import load
from buildsheets.ledger.publish import edition_cards
from buildsheets.print.layouts import Layouts
from buildsheets.views.card import Card, CardKey
from buildsheets.views.types import (
    AddOnView,
    AllergenMatrixView,
    Allergens,
    AmountRow,
    AmountTable,
    BatchCardView,
    GaugeLine,
    GaugeStripView,
    MatrixRow,
    PartView,
    PrepStepView,
    RackLine,
    SheetTable,
    SheetView,
    Table,
)

EN = edition_words(Layouts(), "en")


def texts(before: Card, after: Card, language: str = "en") -> list[str]:
    words = edition_words(Layouts(), language)
    return [sentence(change, words) for change in between_cards(before, after)]


def between_cards(before: Card, after: Card) -> list[Change]:
    return changes_between(card_texts(before.view), card_texts(after.view))


def between(folder: Path, before: Sequence[Card], after: Sequence[Card]) -> Comparison:
    published(folder, before, AUTUMN)
    published(folder, after, WINTER)
    ledger = load(folder)
    return compare(*(side_of_edition(ledger, edition) for edition in ledger.editions))


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
        ([replace(STEPS[0], note="level"), STEPS[1]], ["Brown sugar syrup: now level"]),
        (
            [STEPS[0], replace(STEPS[1], tool="")],
            ["Black tea no longer jigger 2 × 60 ml"],
        ),
        (
            [replace(STEPS[0], station="Top"), STEPS[1]],
            ["Brown sugar syrup station Top, was Tea"],
        ),
    ],
)
def test_changes_of_steps_are_said_as_a_shop_says_them(steps: Any, lines: list[str]) -> None:
    assert texts(build(steps=STEPS[:2]), build(steps=steps)) == lines


def test_allergens_come_first_and_nothing_is_ever_promised() -> None:
    after = build(contains=("milk", "sesame"), steps=STEPS[:3])
    assert texts(build(), after) == [
        "Now contains sesame",
        "Step gone: Cream cap 50 ml, to 430 ml",
    ]
    gone = texts(build(), build(contains=()))
    assert gone[0] == "Milk: no longer declared as contained; still ask before serving"
    assert "free" not in " ".join(gone)


def test_an_allergen_that_turns_from_possible_to_contained_is_one_change() -> None:
    """Report as one that came and one that went it would read like an all-clear."""
    view: Any = build(contains=()).view
    possible = replace(view.allergens, may_contain=("milk",), statement="")
    before = Card(build().key, replace(view, allergens=possible))
    assert texts(before, build()) == ["Now contains milk, was: may contain"]
    assert texts(build(), before) == ["Now may contain milk, was: contains"]


def add_on(name: str, allergens: str, **asked: str) -> AddOnView:
    return AddOnView(
        name, "2", "scoops", "", "P", 2, "after step 2", "", allergens,
        not asked.get("verdict"), asked.get("verdict", ""),
    )  # fmt: skip


def with_add_ons(*add_ons: AddOnView, contains: Sequence[str] = ("milk",)) -> Card:
    return with_cap(build(contains=contains), *add_ons)


@pytest.mark.parametrize(
    ("was", "now", "line"),
    [
        (
            {"verdict": "15 ml too much"},
            {},
            "Cap: fill as without it, was does not fit: 15 ml too much",
        ),
        ({}, {"verdict": "15 ml too much"}, "Cap: now does not fit: 15 ml too much"),
    ],
)
def test_how_an_add_on_is_made_room_for_is_said_to_the_end(
    was: dict[str, str], now: dict[str, str], line: str
) -> None:
    before, after = (with_add_ons(add_on("Cap", "contains milk", **asked)) for asked in (was, now))
    assert texts(before, after) == [line]


@pytest.mark.parametrize(
    ("now", "line"),
    [
        (("5", "leaves", "1 g"), "Mint: amount 5 leaves (1 g), was 4 leaves (0.8 g)"),
        (("4", "leaves", "1 g"), "Mint: amount 4 leaves (1 g), was 4 leaves (0.8 g)"),
        (("1", "g", "0.8 g"), "Mint: amount 1 g, was 4 leaves"),
    ],
)
def test_an_add_on_of_another_amount_is_told_once_with_its_measure(
    now: tuple[str, str, str], line: str
) -> None:
    """Of four leaves that became five it said "tool 1 g, was 0.8" beside the count."""
    mint = add_on("Mint", "")
    before, after = (
        with_add_ons(replace(mint, amount=amount, unit=unit, tool=tool))
        for amount, unit, tool in (("4", "leaves", "0.8 g"), now)
    )
    assert texts(before, after) == [line]


def test_an_allergen_that_an_add_on_still_brings_is_not_called_gone_without_it() -> None:
    cap, seeds = add_on("Cap", "Contains milk; may contain gluten"), add_on("Seeds", "buttermilk")
    assert texts(with_add_ons(cap, seeds), with_add_ons(cap, seeds, contains=()))[0] == (
        "Milk: no longer declared as contained; still ask before serving; "
        "with Cap: contains milk; may contain gluten"
    )


def test_what_was_swapped_is_told_once() -> None:
    """The texts that name the new thing for the old follow from the step and are not told."""
    before = altered(
        keeps=("Black tea 8 h", "Cap 4 h"),
        options_note="Black tea: 250 ml line for every choice",
    )
    swapped = build(steps=(STEPS[0], replace(STEPS[1], what="Oolong"), *STEPS[2:]))
    after = Card(
        swapped.key,
        replace(  # type: ignore[type-var]
            swapped.view,
            keeps=("Oolong 6 h", "Cap 4 h"),
            options_note="Oolong: 250 ml line for every choice",
        ),
    )
    assert texts(before, after) == [
        "Oolong 120 ml, to 250 ml, instead of Black tea",
        "Use within: Oolong 6 h, was Black tea 8 h",
    ]


def test_a_swap_of_another_amount_tells_both() -> None:
    after = replace(STEPS[1], what="Oolong", amount="90", tool="jug")
    assert texts(build(), build(steps=(STEPS[0], after, *STEPS[2:]))) == [
        "Oolong 90 ml, to 250 ml, instead of Black tea 120 ml, to 250 ml; jug, was jigger 2 × 60 ml"
    ]


def test_what_is_still_in_the_drink_was_not_swapped_away() -> None:
    twice = (*STEPS, replace(STEPS[1], number=5, line="to 500 ml"))
    before = with_steps(altered(finish="Black tea last"), *twice)
    after = with_steps(
        altered(finish="Oolong last"), STEPS[0], replace(STEPS[1], what="Oolong"), *twice[2:]
    )
    assert "Oolong last, was Black tea last" in texts(before, after)


def test_a_text_that_changes_with_its_step_is_told_once() -> None:
    before = altered(options_note="Black tea: 250 ml line for every choice")
    lower = build(steps=(STEPS[0], replace(STEPS[1], line="to 230 ml"), *STEPS[2:]))
    after = Card(
        lower.key,
        replace(  # type: ignore[type-var]
            lower.view, options_note="Black tea: 230 ml line for every choice"
        ),
    )
    assert texts(before, after) == ["Black tea to 230 ml, was 250"]


def test_other_texts_tables_and_marks() -> None:
    view: Any = build().view
    (syrup,) = view.amounts
    more = replace(syrup, rows=(replace(syrup.rows[0], amounts=("0", "2")),))
    gauge = (replace(view.gauge[0], height_mm=80.0), view.gauge[1])
    assert texts(build(), altered(finish="Flat lid, 6 mm left")) == ["Flat lid, 6 mm left, was 8"]
    assert texts(build(), altered(amounts=(more,))) == ["Amounts: Syrup (pumps): 50 %: 2, was 1½"]
    assert texts(build(), altered(gauge=gauge)) == ["Edge gauge: 250 ml 80.0 mm, was 82.4"]
    assert texts(build(), build(cautions=("Honey: not under 12 months",))) == [
        "Take care: new: Honey: not under 12 months"
    ]
    assert texts(build(), altered(gauge_floor_mm=5.0)) == ["Drawing or colour changed"]


def test_a_station_card_names_the_drink() -> None:
    assert texts(station(), station(leaves="400 ml")) == [
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
            station(leaves="400 ml"),
        ],
    )
    codes = {(c.name, c.size): (c.after or c.before).code for c in comparison.cards}  # type: ignore[union-attr]
    large, medium_code = codes["Lantern milk tea", "Large"], codes["Lantern milk tea", "Medium"]
    dusk, old = codes["Dusk tea", "Large"], codes["Old tea", "Large"]
    tea = codes["Tea", "Large"]
    assert as_text(report_of(comparison, EN), EN) == (
        "What changed from A26 (Autumn 2026) to W26 (Winter 2026)\n"
        "Holds from Dec 1, 2026. What is not named here stays as it is.\n"
        "\n"
        "ALLERGENS AND CAUTIONS FIRST\n"
        "  Dusk tea (new), Large: none of the 14 declared\n"
        "  Lantern milk tea, Large: now contains soy\n"
        "\n"
        "New\n"
        "  Dusk tea, Large\n"
        "\n"
        "No longer on the menu\n"
        "  Old tea, Large\n"
        "\n"
        "Changed: build cards\n"
        "  Dusk tea (new)\n"
        "    Large: Brown sugar syrup 3 pumps / Black tea 120 ml, to 250 ml / "
        "Ice 2 scoops, to 380 ml / Cream cap 50 ml, to 430 ml\n"
        "  Lantern milk tea\n"
        "    Large, Medium: Black tea 140 ml, was 120; to 270 ml, was 250\n"
        "\n"
        "Changed: station cards\n"
        "  Tea\n"
        "    Large: Lantern milk tea as told under build cards\n"
        "\n"
        "On the wall from Dec 1, 2026: 4 cards to hang up, 4 to take down\n"
        "  All other cards (1) stay on the wall and hold in W26 (Winter 2026) as well.\n"
        "  Cards to hang up say at their foot: Winter 2026, from Dec 1, 2026.\n"
        '  A card may be in several parts ("card 1 of 2"): take down all that have its code.\n'
        "  Station Tea\n"
        f"    {tea}  Tea, Large: revision 2 for revision 1\n"
        "  Build cards (in brackets: the stations that make the drink)\n"
        f"    {dusk}  Dusk tea, Large: NEW, hang up revision 1 (Tea, Top)\n"
        f"    {large}  Lantern milk tea, Large: "
        "revision 2 for revision 1 (Tea, Top)\n"
        f"    {medium_code}  Lantern milk tea, Medium: "
        "revision 2 for revision 1 (Tea, Top)\n"
        f"    {old}  Old tea, Large: ONLY TAKE DOWN revision 1 (Tea, Top)\n"
    )
    data = told(compared(comparison, EN))
    assert [card["status"] for card in data["cards"]] == [
        "new", "changed", "changed", "withdrawn", "changed",
    ]  # fmt: skip
    # A station that has no card of its own goes by its name.
    assert data["take_down_by_station"]["Top"] == [
        {"code": code, "revision": 1} for code in (large, medium_code, old)
    ]


def test_an_old_edition_is_compared_without_its_menu_and_with_todays(tmp_path: Path) -> None:
    published(tmp_path, [build()], AUTUMN)
    ledger = load(tmp_path)
    plan = edition_cards([build(contains=("milk", "egg"))], ledger, WINTER)
    comparison = compare(side_of_edition(ledger, ledger.editions[0]), side_of_cards(plan))
    assert report_of(comparison, EN).safety == ("Lantern milk tea, Large: now contains egg",)


def test_a_menu_that_kept_its_editions_code_is_not_called_by_it(tmp_path: Path) -> None:
    published(tmp_path, [build()], AUTUMN)
    ledger = load(tmp_path)
    plan = edition_cards([build(contains=("milk", "egg"))], ledger, AUTUMN)
    comparison = compare(side_of_edition(ledger, ledger.editions[0]), side_of_cards(plan))
    assert report_of(comparison, EN).title == (
        "What changed from A26 (Autumn 2026) to the menu as it is now"
    )


def test_nothing_changed_says_so(tmp_path: Path) -> None:
    comparison = between(tmp_path, [build()], [build()])
    assert "Nothing changed" in as_text(report_of(comparison, EN), EN)


def test_two_languages_are_told_once_but_both_cards_are_reprinted(tmp_path: Path) -> None:
    def both(cap: str) -> list[Card]:
        steps = (*STEPS[:3], replace(STEPS[3], amount=cap))
        return [build(steps=steps), build(steps=steps, language="es", title="Té farol")]

    now = report_of(between(tmp_path, both("50"), both("60")), EN)
    assert [g.title for section in now.changed for g in section.groups] == ["Lantern milk tea"]
    assert len(now.wall) == 1
    assert ["[es: Té farol, Large]" in line for line in now.wall[0].lines] == [False, True]


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
    found = between_cards(with_steps(build(), *before), with_steps(build(), *after))
    if [(s.what, s.amount) for s in before] == [(s.what, s.amount) for s in after]:
        assert [c.what for c in found] == [What.LOOK]
        return
    assert What.LOOK not in [c.what for c in found]
    came = sum(c.what is What.STEP_ADDED for c in found)
    went = sum(c.what is What.STEP_REMOVED for c in found)
    assert came - went == len(after) - len(before)


@given(st.text(alphabet="ab ", max_size=8), st.text(alphabet="ab ", max_size=8))
def test_what_is_told_of_was_is_a_stretch_of_it_and_enough_to_tell(was: str, now: str) -> None:
    stretch = without_common(was, now).split()
    words = was.split()
    found = [words[a:b] for a in range(len(words) + 1) for b in range(a, len(words) + 1)]
    assert stretch in found
    assert stretch or not words


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
    found = between_cards(before, after)
    assert [sentence(change, EN) for change in found] == [
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

    assert texts(batch("500", "low, 20 s"), batch("450", "low, 15 s")) == [
        "Whisk: low, 15 s, was 20",
        "Cream: 450 g (1 pack), was 500",
    ]


def table(*rows: tuple[str, ...], header: tuple[str, ...] = ("Add-ons", "What to do", "Drinks")
          ) -> SheetTable:  # fmt: skip
    return SheetTable("", header, rows, "lll", (1, 1, 1))


def addons(*rows: tuple[str, ...], cup: str = "large") -> Card:
    view = SheetView(
        kind="addons", language="en", code="", title="Add-ons", subtitle="690 ml to the rim",
        tables=(table(*rows),), notes=(), foot=FOOT, reading_distance_mm=600.0, width_mm=148.0,
        height_mm=210.0, size_name=cup.capitalize(),
    )  # fmt: skip
    return Card(CardKey("addons", "all", cup, "en"), view)


PEARLS = "Pearls: 2 scoops"
BEFORE = ((PEARLS, "leave out 5 ml", "Amber tea"), ("Seeds: 1 scoop", "as written", "Dusk tea"))


def test_cards_of_a_cup_are_told_by_size(tmp_path: Path) -> None:
    changed = ((PEARLS, "as written", "Amber tea"), BEFORE[1])
    sizes = ("large", "small")
    comparison = between(
        tmp_path,
        [addons(*BEFORE, cup=cup) for cup in sizes],
        [addons(*changed, cup=cup) for cup in sizes],
    )
    (section,) = report_of(comparison, EN).changed
    assert section.groups[0].lines == (
        "Large, Small: Pearls, Amber tea: What to do: as written, was leave out 5 ml",
    )


def test_a_card_of_words_tells_what_a_word_means_now() -> None:
    def of_words(*rows: tuple[str, str]) -> Card:
        view = SheetView(
            kind="words", language="en", code="", title="Words on the cards", subtitle="",
            tables=(SheetTable("", ("Measures", ""), rows, "ll", (1.0, 3.0)),), notes=(),
            foot=FOOT, reading_distance_mm=400.0, width_mm=210.0, height_mm=297.0,
        )  # fmt: skip
        return Card(CardKey("words", "all", "", "en"), view)

    before = of_words(("1 pump", "5 ml: Syrup"), ("Rest", "leave it"))
    after = of_words(("1 pump", "8 ml: Syrup"), ("Swirl", "turn it"))
    assert texts(before, after) == [
        "New: Swirl (turn it)", "Gone: Rest", "1 pump: 8 ml: Syrup, was 5"
    ]  # fmt: skip


def gauge_strip(*rows: tuple[float, str, tuple[str, ...]]) -> Card:
    view = GaugeStripView(
        kind="gauge", language="en", code="", title="Edge gauge", size_name="Large",
        subtitle="Stand the strip beside the cup.",
        rows=tuple(
            RackLine(GaugeLine(mm, label, "line"), f"stands {mm:.0f} mm high", drinks)
            for mm, label, drinks in rows
        ),
        gauge_floor_mm=4.0, foot=FOOT, reading_distance_mm=600.0, width_mm=105.0, height_mm=210.0,
    )  # fmt: skip
    return Card(CardKey("gauge", "all", "large", "en"), view)


def test_a_gauge_strip_names_its_lines_and_their_drinks() -> None:
    before = gauge_strip((100.0, "525 ml", ("Amber tea", "Dusk tea")), (120.0, "590 ml", ()))
    after = gauge_strip((100.5, "525 ml", ("Amber tea",)), (118.0, "580 ml", ("Dusk tea",)))
    assert texts(before, after) == [
        "New: 580 ml (Dusk tea)",
        "Gone: 590 ml",
        "525 ml: 100.5 mm, was 100.0",
        "525 ml: no longer for Dusk tea",
    ]


def test_lists_and_sentences_are_told_item_by_item() -> None:
    view: Any = build().view
    before = altered(keeps=("Tea 8 h", "Milk 3 days"), finish="Flat lid: 8 mm. Ice stands 8 mm up.")
    after = altered(keeps=("Tea 6 h", "Oat 4 days"), finish="Flat lid: 8 mm. Ice stands 6 mm up.")
    assert texts(before, after) == [
        "Use within: Tea 6 h, was 8",
        "Ice stands 6 mm up, was 8",
        "Use within: new: Oat 4 days",
        "Use within: gone: Milk 3 days",
    ]
    turned = altered(keeps=("Milk 3 days", "Tea 8 h"), finish=before.view.finish)  # type: ignore[attr-defined]
    assert texts(before, turned) == ["Use within now in the order Milk 3 days · Tea 8 h"]
    assert texts(build(), altered(amounts=())) == ["Amounts: gone: Syrup (pumps)"]
    assert view.amounts


def test_a_stations_choices_are_told_by_name() -> None:
    def with_choices(*cells: str) -> Card:
        card, rows = station(), (AmountRow((), "", cells),)
        table = AmountTable(1, "Plain syrup", "pumps", ("25 %", "50 %"), rows, "Sweetness")
        row = replace(card.view.rows[0], amounts=(table,))  # type: ignore[attr-defined]
        return Card(card.key, replace(card.view, rows=(row,)))  # type: ignore[type-var]

    before = with_choices("1", "2")
    after = with_choices("1", "3")
    assert texts(before, after) == [
        "Lantern milk tea: amounts: Plain syrup (pumps): 50 %: 3, was 2"
    ]


def test_allergens_that_only_rows_tell_of_are_told_once(tmp_path: Path) -> None:
    """What a drink's own cards say is not repeated from the wall sheet; the rest is."""
    egg = build(contains=("milk", "egg"))
    wall = matrix("contains", "may-contain")
    comparison = between(tmp_path, [build(), matrix("contains", "none-declared")], [egg, wall])
    assert report_of(comparison, EN).safety == ("Lantern milk tea, Large: now contains egg",)
    other = between(tmp_path / "b", [matrix("contains", "none-declared")], [wall])
    assert report_of(other, EN).safety == ("Lantern milk tea: soy may contain, was none declared",)


def test_a_new_drinks_cautions_are_told_and_so_are_new_cautions(tmp_path: Path) -> None:
    honey = "Honey: never under 12 months."
    comparison = between(
        tmp_path,
        [build(), station()],
        [build(cautions=(honey,)), build("dusk", "Dusk tea", cautions=(honey,)), station()],
    )
    now = report_of(comparison, EN)
    assert now.new == ("Dusk tea, Large",)
    assert now.safety == (
        f"Dusk tea (new), Large: contains milk; take care: {honey}",
        f"Lantern milk tea, Large: take care: new: {honey}",
    )
    lines = {group.title: group.lines for section in now.changed for group in section.groups}
    assert [*lines] == ["Dusk tea (new)", "Lantern milk tea"]
    assert lines["Lantern milk tea"] == ("Large: Only allergens or cautions, as told first",)


def test_a_card_that_only_follows_from_drinks_names_them(tmp_path: Path) -> None:
    lower = (STEPS[0], replace(STEPS[1], line="to 230 ml"), *STEPS[2:])
    comparison = between(
        tmp_path,
        [build(), build("old", "Old tea"), gauge_strip((82.4, "250 ml", (TITLES[0], "Old tea")))],
        [
            build(steps=lower),
            build("dusk", "Dusk tea"),
            gauge_strip((78.0, "230 ml", (TITLES[0],)), (82.4, "250 ml", ("Dusk tea",))),
        ],
    )
    sections = {
        section.title: section.groups[0].lines for section in report_of(comparison, EN).changed
    }
    assert sections["Changed: edge gauges"] == (
        "Large: Lantern milk tea as told under build cards; new: Dusk tea; gone: Old tea",
    )


def test_a_card_with_other_portions_alone_says_so_on_the_wall_list(tmp_path: Path) -> None:
    def batch(each: str) -> Card:
        portions = Table("Portions", ("Each", "Number"), ((f"{each} g · Large", "12"),))
        view = BatchCardView(
            kind="batch", language="en", code="", title="Tea", scale="full", factor="× 1",
            parts=(), steps=(), gives="1.2 l", figures=(), portions=portions, scaling=None,
            equipment=(), allergens=Allergens(("milk",), (), ""), paths=(), cautions=(),
            keeps=("8 h",), foot=FOOT, reading_distance_mm=600.0, width_mm=148.0, height_mm=210.0,
        )  # fmt: skip
        return Card(CardKey("batch", "tea", "full", "en"), view)

    now = report_of(between(tmp_path, [batch("120")], [batch("110")]), EN)
    assert now.changed[0].groups[0].lines == (
        "full: Made as before; only the tables of portions and scales differ",
    )
    (line,) = now.wall[0].lines
    assert line.endswith("revision 2 for revision 1; only its tables of portions and scales differ")


def with_cap(card: Card, *add_ons: AddOnView) -> Card:
    return Card(card.key, replace(card.view, add_ons=add_ons))  # type: ignore[type-var]


def test_what_an_add_on_newly_offered_brings_stands_first(tmp_path: Path) -> None:
    """Also where the drink itself has none of it, and of a drink that is new."""
    cap = add_on("Cream cap", "Contains milk; may contain gluten")
    comparison = between(
        tmp_path,
        [build(contains=())],
        [with_cap(build(contains=()), cap), with_cap(build("dusk", "Dusk tea", contains=()), cap)],
    )
    now = report_of(comparison, EN)
    brings = "may be ordered with Cream cap: contains milk; may contain gluten"
    assert now.safety == (
        f"Dusk tea (new), Large: none of the 14 declared; {brings}",
        f"Lantern milk tea, Large: {brings}",
    )
    assert now.changed[0].groups[1].lines == (
        "Large: Add-ons: new: Cream cap (2 scoops, after step 2)",
    )


def test_an_add_ons_own_allergens_are_told_once_with_its_drinks(tmp_path: Path) -> None:
    def drinks(allergens: str) -> list[Card]:
        jelly = add_on("Jelly", allergens)
        return [
            with_cap(card, jelly)
            for card in (build(), build("dusk", "Dusk tea"), build("amber", "Amber tea"))
        ]

    comparison = between(tmp_path, drinks("May contain soya"), drinks("Contains milk and soya"))
    assert report_of(comparison, EN).safety == (
        "Jelly as an add-on contains milk and soya, was may contain soya; "
        "offered with Amber tea, Dusk tea, Lantern milk tea",
    )


def test_a_drink_with_a_new_name_is_renamed_and_neither_new_nor_gone(tmp_path: Path) -> None:
    rows = ((PEARLS, "as written", "Amber tea · Lantern milk tea"),)
    named = ((PEARLS, "as written", "Amber tea · Dusk milk tea"),)
    row = station().view.rows[0]  # type: ignore[union-attr]
    renamed_station = Card(
        station().key,
        replace(station().view, rows=(replace(row, drink="Dusk milk tea"),)),  # type: ignore[type-var]
    )
    comparison = between(
        tmp_path,
        [build(), addons(*rows), station(), gauge_strip((82.4, "250 ml", ("Lantern milk tea",)))],
        [
            build(title="Dusk milk tea"),
            addons(*named),
            renamed_station,
            gauge_strip((82.4, "250 ml", ("Dusk milk tea",))),
        ],
    )
    now = report_of(comparison, EN)
    assert (now.new, now.withdrawn) == ((), ())
    lines = [line for section in now.changed for group in section.groups for line in group.lines]
    assert lines == [
        "Large: Name: Dusk milk tea, was Lantern milk tea",
        "Large: Dusk milk tea is the new name of Lantern milk tea",
        "Large: Dusk milk tea as told under build cards",
        "Large: Dusk milk tea as told under build cards",
    ]


def test_another_amount_of_an_add_on_is_told_with_the_add_on_cards(tmp_path: Path) -> None:
    def cards(amount: str) -> list[Card]:
        pearls = replace(add_on("Pearls", "none"), amount=amount)
        return [with_cap(build(), pearls), addons((f"Pearls: {amount}", "as written", TITLES[0]))]

    comparison = between(tmp_path, cards("2 scoops"), cards("3 scoops"))
    lines = {
        section.title: section.groups[0].lines for section in report_of(comparison, EN).changed
    }
    assert lines == {
        "Changed: build cards": ("Large: Add-ons as told under add-on cards",),
        "Changed: add-on cards": ("Large: Pearls: 3 scoops, was 2",),
    }


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (2, 1, "hang up revision 2 (1 part), take down revision 1 (2 parts)"),
        (3, 2, "hang up revision 2 (2 parts), take down revision 1 (3 parts)"),
        (3, 0, "hang up revision 2 (all its parts), take down revision 1 (3 parts)"),
        (0, 1, "revision 2 for revision 1"),
    ],
)
def test_on_how_many_cards_a_split_one_hangs_is_told(
    old: int, new: int, told: str, tmp_path: Path
) -> None:
    """Else the old "card 2 of 2" stays on the wall, or somebody looks for a third of the new."""
    published(tmp_path, [build()], AUTUMN, parts=old)
    changed = [build(contains=("milk", "egg"))]
    code = published(tmp_path, changed, WINTER, parts=new).cards[0].entry.code
    ledger = load(tmp_path)
    now = report_of(compare(*(side_of_edition(ledger, edition) for edition in ledger.editions)), EN)
    assert now.wall[0].lines == (f"{code}  Lantern milk tea, Large: {told} (Tea, Top)",)
    assert any("card 1 of 2" in note for note in now.wall_notes)


def test_a_station_with_a_new_name_is_renamed_and_its_old_card_named(tmp_path: Path) -> None:
    """The card on the wall still says the old name; the steps did not move."""

    def there(steps: Sequence[Any]) -> tuple[Any, ...]:
        return tuple(replace(s, station="Cold bench") if s.station == "Tea" else s for s in steps)

    bench, old = replace(TEA, name="Cold bench"), build()
    drink: Any = replace(old.view, stations=(bench, TOP), steps=there(STEPS))  # type: ignore[type-var]
    view: Any = station().view
    rows = tuple(replace(row, adds=there(row.adds)) for row in view.rows)
    after = [
        Card(old.key, drink),
        Card(station().key, replace(view, station=bench, rows=rows)),
    ]
    now = report_of(between(tmp_path, [build(), station()], after), EN)
    lines = [line for section in now.changed for group in section.groups for line in group.lines]
    assert lines == ["Large: Cold bench is the new name of Tea"] * 2
    assert now.wall[0].title == "Station Cold bench"
    assert now.wall[0].lines[0].endswith("revision 2 for revision 1, which says Tea, Large")


def test_a_drink_in_one_more_size_is_not_a_new_drink(tmp_path: Path) -> None:
    medium = build(cup="medium", cup_name="Medium")
    now = report_of(between(tmp_path, [build()], [build(), medium]), EN)
    assert now.safety == ("Lantern milk tea (new size), Medium: contains milk",)
    assert now.changed[0].groups[0].title == "Lantern milk tea (new size)"


def test_of_several_things_swapped_like_goes_for_like() -> None:
    """Pumps for pumps: a scoop in the place of a pump was not swapped for it."""
    before = [step(1, "Pearls", "4", "scoops"), step(2, "Brown syrup", "6", "pumps")]
    after = [step(1, "Honey", "5", "pumps"), step(2, "Jelly", "3", "scoops")]
    assert texts(build(steps=before), build(steps=after))[:2] == [
        "Jelly 3 scoops, instead of Pearls 4 scoops",
        "Honey 5 pumps, instead of Brown syrup 6 pumps",
    ]


def test_a_choice_that_came_or_went_is_told() -> None:
    """A sweetness more is a cell more in its row."""
    (syrup,) = build().view.amounts  # type: ignore[union-attr]
    more = replace(syrup, header=("0 %", "50 %", "100 %"),
                   rows=(AmountRow((), "", ("0", "1½", "3")),))  # fmt: skip
    assert texts(build(), altered(amounts=(more,))) == ["Amounts: Syrup (pumps): 100 %: now 3"]


def test_a_row_that_left_a_station_card_is_gone_from_it(tmp_path: Path) -> None:
    row = station().view.rows[0]  # type: ignore[union-attr]
    amber = replace(row, drink="Amber tea")
    both = Card(station().key, replace(station().view, rows=(row, amber)))  # type: ignore[type-var]
    moved = build(steps=(replace(STEPS[0], station="Top"), *STEPS[1:]))
    now = report_of(between(tmp_path, [build(), both], [moved, Card(
        station().key, replace(station().view, rows=(amber,))  # type: ignore[type-var]
    )]), EN)  # fmt: skip
    assert now.changed[1].groups[0].lines == ("Large: Gone: Lantern milk tea",)
