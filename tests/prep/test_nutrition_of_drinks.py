"""Nutrition, caffeine and sugar of a drink against published tables and label rules."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import prep_samples as s
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from menu_samples import check_once

from buildsheets.cli.plain_data import told
from buildsheets.cli.prep_results import Nutrients
from buildsheets.cup.serving import Choice
from buildsheets.menu.model import Component
from buildsheets.prep import food_labels as labels
from buildsheets.prep import nutrition as f
from buildsheets.prep.batches import figure_batch

MENU = Path(__file__).parents[2] / "menu"


def whole_milk() -> Component:
    """USDA SR26 NDB 01077, whole milk 3.25 %: per 100 g."""
    return s.component(
        "milk",
        s.ingredient(
            "milk",
            nutrition=s.full_nutrition(
                "g",
                energy_kcal=61,
                fat_g=3.25,
                carbohydrate_g=4.80,
                sugars_g=5.05,
                protein_g=3.15,
                salt_g=43 * 2.5 / 1000,
            ),
        ),
    )


def test_a_cup_of_milk_rounds_as_its_us_label() -> None:
    # 1 cup of NDB 01077 is 244 g; rounding: FDA Food Labeling Guide, Appendix H.
    facts = f.facts_of_parts([(whole_milk(), 244.0)])
    values = {name: facts[name].value for name in ("energy_kcal", "fat_g", "carbohydrate_g")}
    assert values == {
        "energy_kcal": pytest.approx(148.84),
        "fat_g": pytest.approx(7.93),
        "carbohydrate_g": pytest.approx(11.712),
    }
    assert labels.label_rounded("energy_kcal", 148.84, "us").amount == 150
    assert labels.label_rounded("fat_g", 7.93, "us").amount == 8
    assert labels.label_rounded("carbohydrate_g", 11.71, "us").amount == 12
    assert labels.label_rounded("sugars_g", facts["sugars_g"].value or 0, "us").amount == 12
    assert labels.label_rounded("protein_g", facts["protein_g"].value or 0, "us").amount == 8
    salt = facts["salt_g"].value
    assert salt is not None
    assert labels.sodium_mg(salt) == pytest.approx(104.92)
    assert labels.label_rounded("sodium_mg", labels.sodium_mg(salt), "us").amount == 105


def test_energy_from_nutrients_by_annex_xiv() -> None:
    # Milk 3.15 P, 3.25 F, 4.80 C: 61.05 kcal (Atwater 4-9-4), 255.4 kJ (EU 1169/2011 Annex XIV).
    milk = s.ingredient(
        "milk",
        nutrition=s.nutrition("g", protein_g=3.15, fat_g=3.25, carbohydrate_g=4.80, fibre_g=0.0),
    )
    facts = f.facts_of_parts([(s.component("m", milk), 100.0)])
    assert facts["energy_kcal"].value == pytest.approx(61.05)
    assert facts["energy_kj"].value == pytest.approx(255.4, abs=0.05)


def test_label_kj_is_not_kcal_times_4_184() -> None:
    # 99.98 g of sugar: 1699.7 kJ by factors, 1673.3 by conversion (EU 1169/2011 Annex XIV).
    figures = {"carbohydrate_g": 99.98, "fat_g": 0.0, "protein_g": 0.0, "fibre_g": 0.0}
    sugar = s.ingredient("sugar", nutrition=s.nutrition("g", **figures))
    bare = s.ingredient("sugar", nutrition=s.nutrition("g", energy_kcal=399.92))
    by_factors = f.facts_of_parts([(s.component("s", sugar), 100.0)])
    converted = f.facts_of_parts([(s.component("s", bare), 100.0)])
    assert by_factors["energy_kj"].value == pytest.approx(1699.7, abs=0.05)
    assert converted["energy_kj"].value == pytest.approx(1673.3, abs=0.05)


def test_kcal_and_kj_are_of_one_origin_and_fibre_unknown_is_unknown() -> None:
    figures = {"carbohydrate_g": 50.0, "fat_g": 10.0, "protein_g": 5.0}
    declared = s.ingredient("x", nutrition=s.nutrition("g", energy_kcal=300.0, **figures))
    facts = f.facts_of_parts([(s.component("x", declared), 100.0)])
    assert facts["energy_kcal"].value == pytest.approx(300.0)
    assert facts["energy_kj"].value == pytest.approx(300.0 * 4.184)  # thermochemical calorie
    silent = s.ingredient("y", nutrition=s.nutrition("g", **figures))
    facts = f.facts_of_parts([(s.component("y", silent), 100.0)])
    assert facts["energy_kcal"] == facts["energy_kj"] == f.Figure(None, ("y",))


def test_polyols_are_not_counted_twice() -> None:
    values = {
        "carbohydrate_g": 100.0, "polyols_g": 100.0, "fat_g": 0.0, "protein_g": 0.0, "fibre_g": 0.0,
    }  # fmt: skip
    sweet = s.ingredient("x", nutrition=s.nutrition("g", **values))
    facts = f.facts_of_parts([(s.component("x", sweet), 100.0)])
    assert facts["energy_kcal"].value == pytest.approx(240.0)  # 2.4 kcal/g, Annex XIV
    assert facts["energy_kj"].value == pytest.approx(1000.0)


def test_per_100_ml_goes_through_the_density() -> None:
    juice = s.ingredient("juice", density_g_ml=1.048, nutrition=s.nutrition("ml", sugars_g=8.4))
    facts = f.facts_of_parts([(s.component("j", juice, density_g_ml=1.048), 104.8)])
    assert facts["sugars_g"].value == pytest.approx(8.4)
    no_density = s.ingredient("j", density_g_ml=None, nutrition=s.nutrition("ml", sugars_g=8.4))
    assert f.facts_of_parts([(s.component("j", no_density), 10.0)])["sugars_g"].missing == ("j",)


def test_missing_stays_missing_and_names_who() -> None:
    tea = s.component("tea", s.ingredient("tea-leaf"))
    facts = f.facts_of_parts([(whole_milk(), 100.0), (tea, 100.0)])
    assert facts["fat_g"] == f.Figure(None, ("tea-leaf",))
    assert facts.caffeine_mg_per_l == f.Figure(None, ("tea-leaf",))
    assert facts.brix.missing == ("tea",)


def test_shop_water_ice_brings_nothing_and_needs_no_figures() -> None:
    ice = s.component("ice", None, role="ice", behaves="ice", packing=0.55)
    facts = f.facts_of_parts([(whole_milk(), 100.0), (ice, 150.0)])
    assert facts["fat_g"].value == pytest.approx(3.25)
    assert facts.liquid_ml == pytest.approx(100.0)


def test_nested_batches_carry_figures_through_yield_and_loss() -> None:
    tea = s.ingredient("leaf", nutrition=s.full_nutrition("g", caffeine_mg=2000.0))
    water = s.ingredient("water", nutrition=s.full_nutrition("g"))
    brew = s.batch("brew", [s.part(tea, 25), s.part(water, 1000)], yield_factor=1000 / 1025)
    strong = s.batch("mix", [s.part(brew, 500), s.part(water, 500)], loss_share=0.1)
    facts = f.facts_of_parts([(s.component("mix", strong), 200.0)])
    # 500 mg in 1000 g of brew, halved by as much water: 50 mg in 200 g; the loss takes its share.
    assert facts["caffeine_mg"].value == pytest.approx(50.0)


def test_a_brew_takes_up_the_share_of_the_caffeine_that_is_said() -> None:
    leaf = s.ingredient("leaf", nutrition=s.full_nutrition("g", caffeine_mg=2000.0))
    water = s.ingredient("water", nutrition=s.full_nutrition("g"))
    parts = [s.part(leaf, 25), s.part(water, 1000)]

    def caffeine(nutrient: str, **given: Any) -> f.Figure:
        brew = s.batch("brew", parts, yield_factor=1000 / 1025, **given)
        return f.facts_of_parts([(s.component("b", brew), 200.0)], only=(nutrient,))[nutrient]

    # 500 mg in the leaf of 1000 g of brew: 100 mg in 200 g were all taken up, 80 mg at 80 %.
    assert caffeine("caffeine_mg", brew=leaf, caffeine_extracted=0.8).value == pytest.approx(80.0)
    assert caffeine("caffeine_mg", brew=leaf) == f.Figure(None, ("brew",))
    assert caffeine(f.AT_MOST, brew=leaf).value == pytest.approx(100.0)
    assert caffeine(f.AT_MOST, brew=leaf, caffeine_extracted=0.8).value == pytest.approx(80.0)
    assert caffeine("caffeine_mg").value == pytest.approx(100.0)  # nothing is said to be brewed


def test_cautions_go_by_the_strongest_choice() -> None:
    menu = check_once(MENU)
    frost = next(s for s in menu.servings if (s.drink.id, s.cup.id) == ("frost-lemon", "large"))
    usual = f.facts_of(frost)
    strongest = f.strongest(frost)
    no_ice = frost.choices[Choice(0.0, "none")]
    tea_ml = [sum(u.volume_ml for u in one.used if u.component.id == "black-tea")
              for one in (frost, no_ice)]  # fmt: skip
    more = tea_ml[1] / tea_ml[0]
    assert more > 1.5  # tea takes the place of ice and of syrup
    assert strongest["caffeine_mg"].value == pytest.approx(more * (usual["caffeine_mg"].value or 0))
    assert (strongest.caffeine_mg_per_l.value or 0) > (usual.caffeine_mg_per_l.value or 0)


@pytest.mark.parametrize(
    ("drink", "mg", "ml", "per_l"),
    [("black tea", 50, 220, 227), ("filter coffee", 90, 200, 450), ("espresso", 80, 60, 1333),
     ("cola", 40, 355, 113), ("energy drink", 80, 250, 320)],
)  # fmt: skip
def test_caffeine_strength_of_efsas_examples(drink: str, mg: float, ml: float, per_l: int) -> None:
    # EFSA's caffeine factsheet (2015): mg in a usual serving.
    source = s.ingredient("x", nutrition=s.full_nutrition("ml", caffeine_mg=100 * mg / ml))
    facts = f.facts_of_parts([(s.component("x", source, name=drink), float(ml))])
    assert facts["caffeine_mg"].value == pytest.approx(mg)
    assert facts.caffeine_mg_per_l.value == pytest.approx(per_l, abs=0.5)


def known(sugars_g: float = 0.0, caffeine_mg: float = 0.0, per_l: float = 0.0) -> f.Facts:
    amounts = {"sugars_g": f.Figure(sugars_g), "caffeine_mg": f.Figure(caffeine_mg)}
    return f.Facts(amounts, f.Figure(0.0), 100.0, f.Figure(per_l))


def needs_words(name: str, mg_per_l: float) -> bool:
    return known(per_l=mg_per_l).needs_caffeine_words(s.drink("d", [], name=name), "en")


def test_high_caffeine_words_hang_on_the_name() -> None:
    # Regulation (EU) 1169/2011 Annex III 4.1: over 150 mg/l unless the name says tea or coffee.
    strong = 227.0
    assert not needs_words("Black tea", strong)
    assert needs_words("Midnight", strong)
    assert needs_words("Steam cloud", strong)
    assert not needs_words("Midnight", 150.0)
    assert needs_words("Midnight", 150.1)


@pytest.mark.parametrize(
    ("language", "name", "says"),
    [("en", "Iced Tea", True), ("en", "Teaser", False), ("en", "Coffees of the day", True),
     ("es", "Té negro", True), ("es", "Café con leche", True), ("es", "Tequeño", False),
     ("fr", "Thé glacé", True), ("fr", "Théâtre", False), ("de", "Milchtee", True),
     ("de", "Teegetränk", True), ("de", "Eiskaffee", True), ("de", "Nebel", False)],
)  # fmt: skip
def test_tea_or_coffee_in_the_name(language: str, name: str, says: bool) -> None:
    named = s.drink("d", [], name={language: name})
    assert labels.named_tea_or_coffee(named, language) is says


def test_name_is_judged_in_the_language_the_guest_reads() -> None:
    named = s.drink("d", [], name={"en": "Milk tea", "es": "Nube"})
    assert labels.named_tea_or_coffee(named, "en")
    assert not labels.named_tea_or_coffee(named, "es")
    everywhere = s.drink("d", [], name="Té verde")
    assert labels.named_tea_or_coffee(everywhere, "en")
    austrian = s.drink("d", [], name={"de-AT": "Nebel wie Thé", "it": "Café nero"})
    assert not labels.named_tea_or_coffee(austrian, "de-AT")  # German as it is read anywhere
    assert labels.named_tea_or_coffee(austrian, "it")  # whose own words are not known


def test_thresholds() -> None:
    # WHO 2015: 50 g and 25 g of free sugars at 2000 kcal; EFSA 2015: 200 mg in one go.
    assert [known(sugars_g=g).sugar_band for g in (25.0, 25.1, 50.0, 50.1)] == [
        "",
        "over-5-percent",
        "over-5-percent",
        "over-10-percent",
    ]
    assert [known(caffeine_mg=mg).over_single_dose for mg in (200.0, 200.1)] == [False, True]


@pytest.mark.parametrize(
    ("nutrient", "value", "amount", "less"),
    [("energy_kcal", 4.9, "0", False), ("energy_kcal", 5, "5", False),
     ("energy_kcal", 7.5, "10", False), ("energy_kcal", 47, "45", False),
     ("energy_kcal", 47.5, "50", False), ("energy_kcal", 54, "50", False),
     ("energy_kcal", 55, "60", False), ("energy_kcal", 107, "110", False),
     ("fat_g", 0.49, "0", False), ("fat_g", 1.2, "1", False), ("fat_g", 1.25, "1.5", False),
     ("fat_g", 4.7, "4.5", False), ("fat_g", 5.5, "6", False),
     ("sodium_mg", 4, "0", False), ("sodium_mg", 127, "125", False),
     ("sodium_mg", 142, "140", False), ("sodium_mg", 145, "150", False),
     ("sugars_g", 0.7, "1", True), ("sugars_g", 2.5, "3", False)],
)  # fmt: skip
def test_us_rounding(nutrient: str, value: float, amount: str, less: bool) -> None:
    # FDA Food Labeling Guide, Appendix H.
    label = labels.label_rounded(nutrient, value, "us")
    assert (label.amount, label.less_than) == (Decimal(amount), less)


@pytest.mark.parametrize(
    ("nutrient", "value", "amount", "less"),
    [("energy_kj", 255.4, "255", False), ("energy_kcal", 61.05, "61", False),
     ("fat_g", 10.4, "10", False), ("fat_g", 12.5, "13", False), ("fat_g", 9.94, "9.9", False),
     ("sugars_g", 0.51, "0.5", False), ("sugars_g", 0.5, "0.5", True),
     ("protein_g", 0.0, "0", False), ("saturates_g", 0.14, "0.1", False),
     ("saturates_g", 0.1, "0.1", True), ("salt_g", 1.04, "1.0", False),
     ("salt_g", 0.264, "0.26", False), ("salt_g", 0.0125, "0.01", True)],
)  # fmt: skip
def test_eu_rounding(nutrient: str, value: float, amount: str, less: bool) -> None:
    # European Commission guidance on tolerances, December 2012, rounding table.
    label = labels.label_rounded(nutrient, value, "eu")
    assert (label.amount, label.less_than) == (Decimal(amount), less)


def test_melt_water_thins_brix_and_caffeine() -> None:
    syrup = s.component("syrup", s.ingredient("syrup", brix=60.0), brix=None)
    plain = f.facts_of_parts([(syrup, 100.0)])
    melted = f.facts_of_parts([(syrup, 100.0)], melt_g=20.0)
    assert plain.brix.value == pytest.approx(60.0)
    assert melted.brix.value == pytest.approx(50.0)


def test_beds_and_caps_do_not_count_for_brix_but_do_for_sugar() -> None:
    tea = s.component(
        "tea", s.ingredient("tea", brix=0.0, nutrition=s.full_nutrition("g", sugars_g=0.0))
    )
    pearls = s.component(
        "pearls",
        s.ingredient("pearls", nutrition=s.full_nutrition("g", sugars_g=30.0)),
        behaves="settled",
    )
    facts = f.facts_of_parts([(tea, 200.0), (pearls, 50.0)])
    assert facts.brix.value == 0.0
    assert facts["sugars_g"].value == pytest.approx(15.0)


def test_json_says_null_for_what_is_missing() -> None:
    facts = f.facts_of_parts([(s.component("tea", s.ingredient("leaf")), 100.0)])
    unlabelled = {"label": None, "label_less_than": False}
    data = told(amounts(facts))
    assert data["fat_g"] == {"value": None, "missing": ["leaf"], **unlabelled}
    milk = told(amounts(f.facts_of_parts([(whole_milk(), 100.0)])))
    assert milk["fat_g"] == {
        "value": pytest.approx(3.25), "missing": [], "label": 3.3, "label_less_than": False,
    }  # fmt: skip


def amounts(facts: f.Facts) -> object:
    """The amounts of a drink that nothing else is asked of."""
    serving: Any = None
    return Nutrients(serving, facts, "eu").amounts


grams = st.floats(0.1, 500)


@settings(max_examples=40)
@given(st.lists(st.tuples(grams, st.floats(0, 80), st.floats(0, 80)), min_size=1, max_size=5))
def test_sums_are_conserved_and_brix_lies_between_its_parts(
    parts: list[tuple[float, float, float]],
) -> None:
    components = [
        (
            s.component(
                f"c{n}",
                s.ingredient(f"i{n}", brix=b, nutrition=s.full_nutrition("g", sugars_g=sugars)),
            ),
            mass,
        )
        for n, (mass, b, sugars) in enumerate(parts)
    ]
    facts = f.facts_of_parts(components)
    assert facts["sugars_g"].value == pytest.approx(sum(m * g / 100 for m, _, g in parts))
    assert facts.brix.value is not None
    low, high = min(b for _, b, _ in parts), max(b for _, b, _ in parts)
    assert low - 1e-9 <= facts.brix.value <= high + 1e-9


@given(st.lists(st.tuples(grams, st.floats(0, 50)), min_size=1, max_size=4), st.floats(0, 0.5))
def test_a_batch_holds_what_its_parts_brought(
    parts: list[tuple[float, float]], loss: float
) -> None:
    made = s.batch(
        "b",
        [
            s.part(s.ingredient(f"i{n}", nutrition=s.full_nutrition("g", fat_g=fat)), mass)
            for n, (mass, fat) in enumerate(parts)
        ],
        loss_share=loss,
    )
    finished = figure_batch(made).finished_g
    per_gram = f.content_of(made, "fat_g").value
    assert finished is not None
    assert per_gram is not None
    assert per_gram * finished == pytest.approx(sum(m * fat / 100 for m, fat in parts))
