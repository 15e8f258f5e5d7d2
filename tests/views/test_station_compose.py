"""Station cards and what they share with build cards: places, straws, cautions, levels, paper."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pypdfium2
import pytest
from menu_samples import SMALL, check_once, check_texts, swapped

from buildsheets.cup.scan import figure
from buildsheets.cup.serving import Serving
from buildsheets.menu.model import AddStep, Menu, Text
from buildsheets.pipeline import Checked
from buildsheets.prep.batch_card import every_batch
from buildsheets.print.kinds import as_printed
from buildsheets.print.layouts import Layouts
from buildsheets.print.render import RenderOptions, render_pdf
from buildsheets.views import rounding
from buildsheets.views.addons import addons_view
from buildsheets.views.batch import batch_card
from buildsheets.views.build import build_view
from buildsheets.views.gauge import NEAR_MM, all_lines, gauge_view, lines_poured, marks_of
from buildsheets.views.grids import grids
from buildsheets.views.station import station_view
from buildsheets.views.types import AmountRow, AmountTable, Foot, StationCardView, StationRow

WORDS = Layouts(None).words("en")
ESPRESSO = Path(__file__).parents[1] / "wall" / "menus" / "espresso.yaml"


def card(checked: Checked, menu: Menu, station: str, cup: str = "medium") -> StationCardView:
    view = station_view(menu, menu.stations[station], menu.cups[cup], checked.servings, WORDS)
    assert view is not None
    return view


def row(view: StationCardView, drink: str) -> StationRow:
    (found,) = [one for one in view.rows if one.drink.partition(" · ")[0] == drink]
    return found


def serving_of(checked: Checked, drink: str, cup: str) -> Serving:
    return next(s for s in checked.servings if (s.drink.id, s.cup.id) == (drink, cup))


def test_an_add_on_has_a_row_at_its_station_also_where_the_drink_does_not_pass(
    checked: Checked, menu: Menu
) -> None:
    toppings = card(checked, menu, "toppings")
    alone = row(toppings, "Marsh Milk Tea")
    assert alone.drink == "Marsh Milk Tea · only with an add-on"
    assert alone.adds == ()
    assert alone.add_ons[0].name == "Tapioca pearls"
    assert (alone.leaves_at, alone.goes_to) == ("cup with add-on", "S")
    passing = row(toppings, "Boathouse Pearl Tea")
    assert {one.place for one in passing.add_ons} == {"after Tapioca pearls"}


def test_a_row_for_an_add_on_alone_tells_its_cup_of_the_usual_sweetness_and_ice() -> None:
    """Two pumps of 8 ml and 100 ml of milk: without syrup, the first of all choices, it is 100."""
    blend = """
  blend:
    name: Two milks
    cups: [clear]
    price: 4.00
    add_ons: [shot-more]
    build:
      - {add: syrup, amount: 2 pumps, station: end}
      - {add: milk, amount: 100 ml, station: end}
      - {add: oat, amount: 80 ml, makes_room: yes, station: end}
"""
    found = check_texts(ESPRESSO.read_text("utf-8").replace("\ndrinks:", "\ndrinks:" + blend, 1))
    assert found.menu is not None
    alone = row(card(found, found.menu, "machine", "clear"), "Two milks")
    assert alone.drink == "Two milks · only with an add-on"
    assert alone.arrives_at == "usually 115 ml"


def test_straws_of_add_ons_stand_where_the_lid_goes_on(checked: Checked, menu: Menu) -> None:
    lid = row(card(checked, menu, "finish"), "Marsh Milk Tea").adds[-1]
    assert lid.what == "Flat lid on"
    assert lid.note.startswith("with Tapioca pearls, Coconut jelly")
    assert lid.note.endswith(": wide straw")
    own = row(card(checked, menu, "finish"), "Boathouse Pearl Tea").adds[-1]
    assert own.note == "wide straw"  # for all, so not once more for its add-ons


def test_a_caution_of_one_drink_stands_in_its_row(checked: Checked, menu: Menu) -> None:
    shake = card(checked, menu, "shake")
    honey = "Honey: never under 12 months."
    assert honey not in shake.cautions
    assert [one.drink.partition(" · ")[0] for one in shake.rows if honey in one.check] == [
        "Citrus Burst Jasmine", "Reed Bed Lemonade",
    ]  # fmt: skip


def test_no_row_says_that_only_an_add_on_brings_what_the_drink_has_anyway() -> None:
    """Three of four drinks are of espresso; with an extra shot the fourth has caffeine too."""
    milk = """  cold-milk:
    name: Cold milk
    cups: [clear]
    price: 3.00
    add_ons: [shot-more]
    build:
      - {add: cubes, amount: 2 scoops}
      - {add: milk, amount: 200 ml}
      - {do: chill}
      - {do: lid, station: end}
days:
"""
    bar = check_texts(ESPRESSO.read_text("utf-8").replace("days:\n", milk))
    assert bar.menu is not None
    view = card(bar, bar.menu, "end", "clear")
    caffeine = WORDS("caution_caffeine")
    assert WORDS("caution_of_some", caution=caffeine) in view.cautions
    assert {one.drink.partition(" · ")[0]: one.check.count(caffeine) for one in view.rows} == {
        "Espresso over ice": 0, "Iced latte": 0, "Shaken espresso": 0, "Cold milk": 1,
    }  # fmt: skip
    assert f"With Extra shot: {caffeine}" in row(view, "Cold milk").check


def test_whoever_hands_a_drink_over_reads_all_its_cautions(checked: Checked, menu: Menu) -> None:
    hot = card(checked, menu, "finish", "hot")
    assert "Hot: it can scald." in hot.cautions
    assert row(hot, "Honey Lantern").check == "Honey: never under 12 months."
    iced = card(checked, menu, "finish")
    (caffeine,) = [one for one in iced.cautions if "Caffeine: " in one]
    # Not all have it: the card says where to see which.
    assert caffeine.endswith("Which drinks: see their build cards.")


def test_a_build_card_names_what_keeps_and_its_stations_in_turn(
    checked: Checked, menu: Menu
) -> None:
    hearth = build_view(menu, serving_of(checked, "hearth-ginger-milk", "hot"), WORDS)
    assert any(one.what == "Steamed milk" for one in hearth.steps)
    assert "Whole milk 3 days" in hearth.keeps
    marsh = build_view(menu, serving_of(checked, "marsh-milk-tea", "medium"), WORDS)
    assert [mark.letter for mark in marsh.stations] == ["T", "S", "B", "F"]  # an add-on goes first
    assert marsh.keeps == (
        "Tapioca pearls 4 h", "Black tea 8 h", "Parsnip cream 2 days", "Soaked basil seeds 2 days",
        "Whole milk 3 days", "Oat drink 4 days", "Coconut jelly 5 days",
        "Brown sugar syrup 7 days",
    )  # fmt: skip
    here = [one for one in checked.servings if one.cup.id == "medium"]
    extras = addons_view(menu, menu.cups["medium"], here, WORDS)
    assert extras is not None
    (note,) = [one for one in extras.notes if one.startswith(WORDS("keeps"))]
    assert "Tapioca pearls 4 h" in note
    assert "Oat drink 4 days" in note


@pytest.mark.parametrize(
    ("language", "unsaid"),
    [
        ("en", "Oat drink: no time given, ask"),
        ("es", "Bebida de avena: sin plazo indicado, preguntar"),
        ("fr", "Boisson à l'avoine : durée non indiquée, demander"),
        ("de", "Haferdrink: keine Zeit angegeben, nachfragen"),
    ],
)
def test_what_nobody_gave_a_time_for_is_named_and_water_on_tap_is_not(
    language: str, unsaid: str
) -> None:
    bar = check_once(ESPRESSO)
    assert bar.menu is not None
    words = Layouts().words(language)
    latte = build_view(bar.menu, serving_of(bar, "latte", "small"), words)
    assert latte.keeps[-1] == unsaid
    # House beans and milk keep for a time; hot water is on tap.
    americano = build_view(bar.menu, serving_of(bar, "americano", "small"), WORDS)
    assert americano.keeps == ("Decaf beans 14 days", "House beans 14 days")


def test_what_a_swap_is_in_place_of_is_said_and_who_brings_it_again(
    checked: Checked, menu: Menu
) -> None:
    marsh = build_view(menu, serving_of(checked, "marsh-milk-tea", "medium"), WORDS)
    assert marsh.allergens.contains == ("milk",)
    assert (
        "With Oat drink: gluten (oats) in place of milk; may contain soya and nuts; "
        "milk again with Parsnip cream."
    ) in marsh.allergens.others


def test_a_table_names_what_changes_and_calls_the_rest_any_other() -> None:
    bar = check_once(ESPRESSO)
    assert bar.menu is not None
    latte = build_view(bar.menu, serving_of(bar, "latte", "small"), WORDS)
    (grid,) = grids(latte.amounts)
    assert grid.rows[1:] == (("every order with Extra shot", "180"), ("any other", "190"))


def test_a_shaker_is_told_from_the_cup_and_the_cup_is_taken_for_the_pour(
    checked: Checked, menu: Menu
) -> None:
    first, second = [
        one for one in card(checked, menu, "shake").rows if one.drink.startswith("Frost Lemon Tea")
    ]
    assert (first.arrives_at, first.goes_to) == ("empty shaker; with an add-on, its cup too", "B")
    assert second.arrives_at.startswith("usually shaker ")
    taken = " + take the cup with the add-on, or an empty one"
    assert second.arrives_at.endswith(taken)
    brew = row(card(checked, menu, "brew"), "Frost Lemon Tea")
    assert brew.leaves_at + taken == second.arrives_at  # one rounding for all cards


def test_a_level_is_usual_unless_every_choice_reaches_it(checked: Checked, menu: Menu) -> None:
    brew = card(checked, menu, "brew")
    assert row(brew, "Oat Mist Oolong").leaves_at == "425 ml"
    assert row(brew, "Marsh Milk Tea").leaves_at == "usually 425 ml"  # lower with the cream
    frost = build_view(menu, serving_of(checked, "frost-lemon", "medium"), WORDS)
    shaken = next(step for step in frost.steps if step.what.startswith("Shake"))
    assert shaken.what == "Shake 10 s, pour all in, do not strain"
    assert shaken.note == ""
    assert shaken.line.startswith("usually ")
    # a check, which nobody pours to: a mark of its own kind on the edge, none in the drawing
    edge, drawn = frost.gauge, frost.drawing.lines
    assert ({line.kind for line in edge}, {line.kind for line in drawn}) == (
        {"level", "working", "rim"}, {"working"}
    )  # fmt: skip


def test_no_step_repeats_the_level_of_the_step_before(checked: Checked, menu: Menu) -> None:
    for serving in checked.servings:
        lines = [step.line for step in build_view(menu, serving, WORDS).steps if step.line]
        assert all(a != b for a, b in pairwise(lines)), lines
    pearls = build_view(menu, serving_of(checked, "boathouse-pearl", "medium"), WORDS).steps[0]
    assert (pearls.tool, pearls.line) == ("90 ml", "")


def test_a_swirl_is_left_out_where_there_is_nothing_to_swirl(checked: Checked, menu: Menu) -> None:
    serving = serving_of(checked, "marsh-milk-tea", "medium")
    swirl = next(s for s in menu.drinks["marsh-dusk"].steps if getattr(s, "action", "") == "swirl")
    syrup, *rest = serving.drink.steps
    swirled = figure(replace(serving.drink, steps=(syrup, swirl, *rest)), serving.cup)
    step = build_view(menu, swirled, WORDS).steps[1]
    assert step.note.endswith("not at 0%")


def test_few_drinks_are_on_the_paper_of_a_build_card_turned(checked: Checked, menu: Menu) -> None:
    few, many = card(checked, menu, "shake", "hot"), card(checked, menu, "shake")
    assert (few.width_mm, few.height_mm) == (210, 148)
    assert (many.width_mm, many.height_mm) == (297, 210)


def test_a_long_row_goes_on_in_rows_that_add_nothing(checked: Checked, menu: Menu) -> None:
    view = card(checked, menu, "brew")
    rows = tuple(
        AmountRow((f"set {n}",), ice, ("1", "2")) for n in range(9) for ice in ("no", "less", "all")
    )
    table = AmountTable(3, "Tea", "ml", ("0%", "100%"), rows, "Sweetness")
    long = replace(view, rows=(replace(view.rows[0], amounts=(table,)), view.rows[1]))
    first, *more, last = as_printed(long).rows
    assert len(more) == 2
    assert all(one.adds == one.add_ons == () and one.drink == first.drink for one in more)
    assert sum((t.rows for one in (first, *more) for t in one.amounts), ()) == rows
    assert last == view.rows[1]
    assert as_printed(as_printed(long)) == as_printed(long)


def test_what_add_ons_contain_is_printed_once_a_page(checked: Checked, menu: Menu) -> None:
    view = replace(card(checked, menu, "toppings"), code="S-1", foot=Foot("S-1"))
    told = {f"{o.name}: {o.allergens}" for r in view.rows for o in r.add_ons}
    assert "Tapioca pearls: May contain soya" in told
    done = render_pdf([view], RenderOptions(title="Toppings"))
    document, seen = pypdfium2.PdfDocument(done.pdf), 0
    for page in document:
        text = " ".join(page.get_textpage().get_text_bounded().split())
        for one in told:
            offered = f"+ {one.partition(': ')[0]} ·" in text.replace("\N{NO-BREAK SPACE}", " ")
            assert text.count(one) == offered
            seen += offered
    assert seen >= len(told)


def test_an_amount_that_other_orders_do_not_take_is_called_usual(
    checked: Checked, menu: Menu
) -> None:
    marsh = build_view(menu, serving_of(checked, "marsh-milk-tea", "medium"), WORDS)
    for view in (card(checked, menu, "shake"), card(checked, menu, "brew"), marsh):
        printed = render_pdf([replace(view, code="S-1", foot=Foot("S-1"))], RenderOptions()).pdf
        pages = [one.get_textpage().get_text_bounded() for one in pypdfium2.PdfDocument(printed)]
        text = " ".join(" ".join(pages).split())
        assert "usually 4 pumps" in text or "usually to 425 ml line" in text
        assert not re.search(r"(?<!usually )4 pumps", text)
        assert "usually 80 ml" not in text  # the milk is the same for every order


def test_every_line_poured_for_some_choice_has_a_mark(checked: Checked, menu: Menu) -> None:
    marks = 0
    for serving in checked.servings:
        strip = gauge_view(menu, serving.cup, checked.servings, WORDS)
        assert strip is not None
        gauge = all_lines(serving, WORDS)
        for one in lines_poured(serving, WORDS):
            level = rounding.line_number(WORDS, one.reading_ml)
            for lines in (gauge, strip.gauge):
                near = [line for line in lines if line.kind == "line"
                        and 0 <= one.height_mm - line.height_mm <= NEAR_MM]  # fmt: skip
                assert any(level in line.label.split() for line in near), (one, lines)
            assert any(one.drink in each.drinks for each in strip.rows)
            marks += 1
    assert marks > len([s for s in checked.servings if s.body.used and s.body.used.to_line_ml])


def test_lines_a_hand_cannot_tell_apart_are_one_mark(checked: Checked) -> None:
    lines = lines_poured(serving_of(checked, "marsh-milk-tea", "medium"), WORDS)
    (usual,) = [one for one in lines if one.drink == "Marsh Milk Tea"]
    near = replace(usual, reading_ml=usual.reading_ml + 5, height_mm=usual.height_mm + 1.0)
    far = replace(usual, reading_ml=usual.reading_ml + 10, height_mm=usual.height_mm + 2.0)
    labels = [line.label for line, _ in marks_of([far, near, usual], WORDS)]
    assert labels == ["425 / 430 ml", "435 ml"]


def test_a_tool_without_a_plural_is_counted_with_a_sign(checked: Checked) -> None:
    step = serving_of(checked, "marsh-milk-tea", "medium").steps[0].step
    assert isinstance(step, AddStep)
    assert step.tool is not None
    bare = replace(step.tool, one=Text({"": "pump"}), many=None)
    assert [rounding.unit(WORDS, bare, n) for n in (1.0, 2.0)] == ["pump", "× pump"]


def test_a_station_says_how_long_what_stands_there_keeps_as_every_card_does(
    checked: Checked, menu: Menu
) -> None:
    """The stations of a cup say together what its build cards say, and a batch's card no other
    time."""
    for cup in menu.cups.values():
        here = [one for one in checked.servings if one.cup.id == cup.id]
        built = {line for one in here for line in build_view(menu, one, WORDS).keeps}
        views = [station_view(menu, one, cup, here, WORDS) for one in menu.stations.values()]
        said = {line for view in views if view is not None for line in view.keeps}
        assert said == built
    toppings = card(checked, menu, "toppings").keeps
    assert toppings[0] == "Tapioca pearls 4 h"  # cooked-pearls: keeps_for: 4 h
    assert not [line for line in toppings if line.startswith("Whole milk")]
    for scale, one in every_batch(menu, {}):
        keeps = one.batch.keeps_for
        if keeps is None or keeps.hours is None:
            continue
        name, time = WORDS.name(one.batch), rounding.keeps(WORDS, keeps)
        assert batch_card(menu, one, scale, WORDS).keeps[0].startswith(time)
        for station in menu.stations:
            lines = card(checked, menu, station).keeps
            assert {line for line in lines if line.startswith(f"{name} ")} <= {f"{name} {time}"}


@pytest.mark.parametrize(("lid", "place"), [("flat", ", before the lid"), ("none", "")])
def test_nothing_goes_in_before_a_lid_that_a_cup_has_not(lid: str, place: str) -> None:
    swims = "behaves: swimming, density: 0.9 g/ml, bulk_density: 0.3 g/ml, tool: scoop"
    shop = SMALL
    for old, new in (
        ("    lid: flat\n", f"    lid: {lid}\n"),
        ("ice:\n  cubes", f"  leaves: {{from: pearl-tin, {swims}, station: bar}}\nice:\n  cubes"),
        ("{topping: pearls, amount: 1 scoop", "{topping: leaves, amount: 1 scoop"),
        ("      - {do: stir, for: 5 s}\n", "      - {do: stir, for: 5 s}\n      - {do: lid}\n"),
    ):
        shop = swapped(shop, old, new)
    found = check_texts(shop)
    assert found.menu is not None
    (one,) = build_view(found.menu, serving_of(found, "cloud", "medium"), WORDS).add_ons
    assert one.place == f"after step 6{place}"
