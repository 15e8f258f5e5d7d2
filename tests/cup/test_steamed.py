"""Steamed milk: where it stands by hand, how hot the drink is, and what the cards say of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from menu_samples import check_once, check_texts

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import AddStep
from buildsheets.menu.volumes import FLUID_OUNCES
from buildsheets.print.layouts import Layouts
from buildsheets.views.build import build_view
from buildsheets.views.rounding import grown
from buildsheets.views.station import station_view

COFFEE = Path(__file__).parents[1] / "wall" / "menus" / "coffee.yaml"
TEXT = COFFEE.read_text("utf-8")
HOW = "steamed: {air: 25 %, to: 60 °C}"


def served(drink: str, cup: str, text: str = TEXT) -> Serving:
    checked = check_texts(text)
    return next(s for s in checked.servings if (s.drink.id, s.cup.id) == (drink, cup))


def test_a_latte_by_hand() -> None:
    """200 ml cold grow by 25 %: 50 ml of air, which stand as foam on 36 ml + 200 ml of drink."""
    latte = served("latte", "small")
    assert latte.final.liquid_level_ml == pytest.approx(36 + 200)
    assert latte.final.cap_base_ml == pytest.approx(236)
    assert latte.final.cap_top_ml == pytest.approx(36 + 200 * 1.25)
    assert latte.final.top_ml == pytest.approx(286)


def test_the_foam_counts_under_the_lid() -> None:
    """308.3 ml may be filled: 36 + 1.25 x 217 = 307.25 ml fit, 36 + 1.25 x 219 = 309.75 do not."""
    for cold_ml, verdict in ((217, "fits"), (219, "too-much")):
        text = TEXT.replace("small: 200 ml", f"small: {cold_ml} ml")
        assert served("latte", "small", text).verdict == verdict


def test_too_much_is_shown_with_what_the_milk_grows_by() -> None:
    """219 ml take up 219 x 1.25 = 273.75 ml."""
    text = TEXT.replace("small: 200 ml", "small: 219 ml")
    (over,) = (one for one in check_texts(text).findings if one.code == "FIT01")
    line = next(one for one in over.sums if one.part == "steamed-milk")
    assert (line.takes_up, line.because) == ("273.8 ml", "cold; grows by 25 % when steamed")


def test_the_drink_is_as_hot_as_milk_and_coffee_make_it() -> None:
    """36 ml at 1.01 g/ml and 75 °C, 200 ml at 1.03 g/ml and 60 °C: 62.3 °C. Steamed to 70 °C it is
    70.8 °C, above the 65 °C of IARC Monographs volume 116."""
    contents = served("latte", "small").final.contents
    mixed_c = (36.36 * 75 + 206 * 60) / (36.36 + 206)
    assert contents.heat_g_c / contents.liquid_g == pytest.approx(mixed_c)
    assert mixed_c == pytest.approx(62.25, abs=0.01)
    codes = {one.code for one in check_texts(TEXT.replace("to: 60 °C", "to: 70 °C")).findings}
    assert "HOT05" in codes
    assert "HOT05" not in {one.code for one in check_once(COFFEE).findings}


def test_milk_is_bought_cold_and_without_its_air() -> None:
    milk = next(one for one in served("latte", "small").used if one.component.id == "steamed-milk")
    assert (milk.volume_ml, milk.mass_g) == pytest.approx((200, 206))


def test_a_swap_grows_as_it_does_itself() -> None:
    """Oat drink by 15 %: 36 + 200 x 1.15 = 266 ml."""
    latte = served("latte", "small")
    (oat,) = latte.drink.swaps
    assert latte.with_swap(oat).final.top_ml == pytest.approx(266)


@pytest.mark.parametrize("language", ["en", "es", "fr", "de"])
def test_the_card_says_how_to_steam_and_never_to_keep(language: str) -> None:
    menu = check_once(COFFEE).menu
    assert menu is not None
    words = Layouts().words(language)
    latte = served("latte", "small")
    view = build_view(menu, latte, words)
    note = view.steps[1].note
    milk = menu.ingredients["white"]
    assert words("steam_to", what=words.name(milk), to="60 °C", share=words.percent(0.25)) in note
    fahrenheit = words.measured_in(replace(menu.shop, measures="us_customary", volumes_in="ml"))
    in_us = build_view(menu, latte, fahrenheit).steps[1].note
    to = "140 °F (60 °C)"
    assert fahrenheit("steam_to", what=words.name(milk), to=to, share=words.percent(0.25)) in in_us
    assert words("in_pitcher", volume="250 ml") in note
    assert words("serve_at_once") in view.finish
    name = words.name(latte.used[1].component)
    assert words("steam_fresh", name=name) in view.keeps
    assert words("keeps_days", name=name, count=3) not in view.keeps
    assert words("caution_hot") in view.cautions
    assert [layer.kind for layer in view.drawing.layers] == ["liquid", "cap"]


def test_where_it_is_handed_over_the_station_says_to_serve_at_once() -> None:
    """Not where the milk is steamed: the cup goes on from there."""
    checked, words = check_once(COFFEE), Layouts().words("en")
    menu = checked.menu
    assert menu is not None

    def check_of(station: str, drink: str) -> str:
        cup = menu.drinks[drink].cups[0]
        view = station_view(menu, menu.stations[station], cup, checked.servings, words)
        assert view is not None
        return next(row.check for row in view.rows if row.drink == words.name(menu.drinks[drink]))

    assert check_of("end", "latte").startswith(words("serve_at_once"))
    assert words("serve_at_once") not in check_of("bar", "latte")
    assert words("serve_at_once") not in check_of("end", "iced-latte")


def test_the_line_in_the_pitcher_is_the_usual_one_where_a_choice_changes_it() -> None:
    """The sweet latte takes more milk where it has no syrup: 265 ml grow to 330."""
    menu, words = check_once(COFFEE).menu, Layouts().words("en")
    assert menu is not None
    note = build_view(menu, served("sweet-latte", "large"), words).steps[2].note
    assert "until grown by 25%" in note
    assert note.endswith("usually to 330 ml in the pitcher")


@pytest.mark.parametrize(
    ("step", "cold_fl_oz", "share", "mark"),
    [
        (0.5, 8, 0.20, "9½ fl oz"),  # 9.6
        (0.5, 8, 0.15, "9 fl oz"),  # 9.2, read as 9¼, between two marks
        (0.25, 8, 0.15, "9¼ fl oz"),
        (1, 12, 0.20, "14 fl oz"),  # 14.4
        (1, 4, 0.15, ""),  # 4.6: the mark below is where the cold milk stands
    ],
)
def test_milk_grows_to_a_mark_that_its_pitcher_has(
    step: float, cold_fl_oz: float, share: float, mark: str
) -> None:
    menu = check_once(COFFEE).menu
    assert menu is not None
    ounce = FLUID_OUNCES["us_customary"]
    shop = replace(menu.shop, measures="us_customary", volumes_in="fl oz")
    words = Layouts().words("en").measured_in(shop)
    milk = served("latte", "small").steps[1].step
    assert isinstance(milk, AddStep)
    assert milk.tool is not None
    pitcher = replace(milk.tool, unit="ml", marks=ounce, step=step * ounce.ml)
    cold_ml = cold_fl_oz * ounce.ml
    assert grown(words, pitcher, cold_ml, cold_ml * (1 + share)).replace("\xa0", " ") == mark


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (HOW, HOW + ", temperature: 5 °C"),
        ("amount: {small: 200 ml, large: 280 ml}", "fill_to: {small: 200 ml, large: 280 ml}"),
        ("large: 280 ml}", "large: 280 ml}, into: shaker"),
    ],
)
def test_what_cannot_be_meant_is_refused(old: str, new: str) -> None:
    assert old in TEXT
    found = [one for one in check_texts(TEXT.replace(old, new)).findings if one.code == "STM01"]
    assert len(found) == 1
    assert found[0].hint
