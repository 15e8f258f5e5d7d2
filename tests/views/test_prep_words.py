"""Shown amounts, times and names of the prep room, and its words in every language."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Any

import prep_samples as s
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.cup.allergens import allergen_report
from buildsheets.print.layouts import Layouts, shipped_root
from buildsheets.views import rounding
from buildsheets.views.allergens import allergen_line, allergen_name, allergens, caution_ids

LANGUAGES = ("en", "es", "fr", "de")
EN = Layouts(None).words("en")
ES = Layouts(None).words("es")


def lists(language: str) -> dict[str, Any]:
    path = Path(shipped_root()) / "words" / f"prep.{language}.yaml"
    loaded: dict[str, Any] = yaml.safe_load(path.read_text("utf-8"))
    return loaded


def placeholders(text: Any) -> set[str]:
    words = text.values() if isinstance(text, dict) else [text]
    return {name for one in words for name in re.findall(r"{(\w+)}", one)}


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_every_language_has_the_same_words_with_the_same_values(language: str) -> None:
    english, other = lists("en"), lists(language)
    assert set(other) == set(english)
    for key, text in english.items():
        assert placeholders(other[key]) == placeholders(text), key


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_word_promises_the_absence_of_an_allergen(language: str) -> None:
    promise = re.compile(r"free from|-free|sin alérgenos|sans allergène|allergenfrei|libre de")
    for key, text in lists(language).items():
        for one in text.values() if isinstance(text, dict) else [text]:
            assert not promise.search(one.casefold()), key


@pytest.mark.parametrize(
    ("value", "written"),
    [(1250.0, "1250"), (1250.5, "1250.5"), (2.5, "2.5"), (0.25, "0.25"), (1.0000000001, "1")],
)
def test_grams_have_no_thousands_mark(value: float, written: str) -> None:
    assert rounding.grams(EN, value) == written


def test_decimals_in_the_readers_way() -> None:
    assert rounding.grams(ES, 2.5) == "2,5"
    assert rounding.prep_volume(ES, 1550.0) == "1,55 l"


@pytest.mark.parametrize(
    ("value", "down", "up"),
    [(1559.9, "1.55 l", "1.56 l"), (1000.0, "1 l", "1 l"), (997.0, "995 ml", "1000 ml"),
     (64.9, "60 ml", "65 ml"), (3.26, "3.2 ml", "3.3 ml"), (5.0, "5 ml", "5 ml")],
)  # fmt: skip
def test_yields_round_down_and_needs_up(value: float, down: str, up: str) -> None:
    assert rounding.prep_volume(EN, value) == down
    assert rounding.prep_volume(EN, value, up=True) == up


@given(st.floats(0.1, 1e5))
def test_a_shown_yield_never_promises_more_nor_a_need_less(value: float) -> None:
    def back(text: str) -> float:
        number, unit = text.replace(",", "").split(" ")
        return float(number) * (1000 if unit == "l" else 1)

    assert back(rounding.prep_volume(EN, value)) <= value + 0.01
    assert back(rounding.prep_volume(EN, value, up=True)) >= value - 0.01


@pytest.mark.parametrize(
    ("seconds", "written"),
    [(15, "15 s"), (90, "90 s"), (120, "2 min"), (330, "5.5 min"), (7200, "2 h"), (50400, "14 h")],
)
def test_times_as_a_kitchen_timer_shows_them(seconds: float, written: str) -> None:
    assert rounding.seconds(EN, seconds) == written


@pytest.mark.parametrize(
    ("minutes", "written"),
    [(600, "10:00"), (569.99, "09:29"), (-30, "23:30 (the day before)"),
     (-1080, "06:00 (the day before)"), (-1500, "23:00 (2 days before)"),
     (1500, "01:00 (after midnight)")],
)  # fmt: skip
def test_clock_says_which_day(minutes: float, written: str) -> None:
    assert rounding.clock(EN, minutes) == written


def test_keeping_times_and_plurals() -> None:
    assert rounding.keeps(EN, s.keeps(days=1)) == "1 day"
    assert rounding.keeps(EN, s.keeps(days=3)) == "3 days"
    assert rounding.keeps(EN, s.keeps(hours=4)) == "4 h"
    assert rounding.keeps(ES, s.keeps(days=3)) == "3 días"


def test_dates_carry_the_weekday_and_the_short_one_stays_whole() -> None:
    day = date(2026, 12, 5)  # a Saturday
    assert rounding.day(EN, day) == "Sat, Dec 5, 2026"
    assert rounding.day(ES, day).startswith("sáb")
    assert " " not in rounding.day_unbroken(EN, day)


def test_allergens_are_never_blank() -> None:
    menu = s.menu()
    none = allergens(EN, menu, allergen_report(s.ingredient("sugar")))
    assert none.contains == ()
    assert "14" in none.statement
    unknown = allergens(
        EN, menu, allergen_report(s.batch("b", [s.part(s.ingredient("sauce", contains=None), 1)]))
    )
    assert unknown.statement.startswith("NOT DECLARED: sauce")
    both = allergens(
        EN, menu, allergen_report(s.ingredient("x", contains=["soybeans"], may_contain=["milk"]))
    )
    assert (both.contains, both.may_contain, both.statement) == (("soya",), ("milk",), "")
    assert allergen_line(EN, both) == "Contains soya; may contain milk"


def test_what_may_contain_an_allergen_is_never_said_to_declare_none() -> None:
    """ "None is declared" beside "may contain" would contradict itself on the wall."""
    traces = allergen_report(s.ingredient("x", contains=[], may_contain=["mustard", "sesame"]))
    told = allergens(EN, s.menu(), traces)
    assert (told.contains, told.statement) == ((), "")
    assert allergen_line(EN, told) == "May contain mustard and sesame"


def test_an_undeclared_part_is_said_even_beside_what_is_contained() -> None:
    mix = s.batch(
        "b",
        [
            s.part(s.ingredient("milk", contains=["milk"]), 1),
            s.part(s.ingredient("sauce", contains=None), 1),
        ],
    )
    told = allergens(EN, s.menu(), allergen_report(mix))
    assert told.contains == ("milk",)
    assert "sauce" in told.statement
    assert allergen_line(EN, told) == (
        "Contains milk. NOT DECLARED: sauce. Do not serve to anyone with an allergy."
    )


def test_the_shops_own_word_for_an_allergen_wins() -> None:
    menu = s.menu(shop=s.shop(allergens={"milk": s.text({"en": "dairy", "es": "lácteos"})}))
    assert allergen_name(EN, menu, "milk") == "dairy"
    assert allergen_name(ES, menu, "milk") == "lácteos"
    assert allergen_name(ES, s.menu(), "milk") == "leche"


def test_cautions_come_from_everything_inside_once() -> None:
    honey = s.ingredient("honey", cautions=("honey",))
    syrup = s.batch("syrup", [s.part(honey, 1)], cautions=("hot",))
    mix = s.batch("mix", [s.part(syrup, 1), s.part(honey, 1)])
    assert caution_ids(mix) == ("honey",)  # what was hot has cooled when it goes in
    brew = s.batch("brew", [s.part(honey, 1)], steps=(s.batch_step("pour", temperature_c=95.0),))
    assert caution_ids(brew) == ("hot", "honey")
    assert caution_ids(s.component("c", mix, cautions=("hot",))) == ("hot", "honey")


def test_a_cereal_or_nut_is_named_with_its_group() -> None:
    # Regulation (EU) 1169/2011, Annex II, 1 and 8: wheat, rye, barley, oats; almonds and so on.
    drink = s.ingredient("x", contains=["oats", "milk"], may_contain=["almonds"])
    told = allergens(EN, s.menu(), allergen_report(drink))
    assert told.contains == ("gluten (oats)", "milk")
    assert told.may_contain == ("nuts (almonds)",)
    assert allergen_report(drink).verdict("gluten") == "contains"
    assert allergen_report(drink).verdict("nuts") == "may-contain"
    assert allergen_report(drink).verdict("eggs") == "none-declared"
    assert allergen_name(ES, s.menu(), "hazelnuts") == "frutos de cáscara (avellanas)"


def test_the_us_list_says_soy() -> None:
    us = s.menu(shop=s.shop(allergen_list="us9"))
    assert allergen_name(EN, us, "soybeans") == "soy"
    assert allergen_name(EN, s.menu(), "soybeans") == "soya"
