"""Regulation (EU) 1169/2011 on food information, a test a clause: what a person reads.

Annex II as the Food Allergy Research and Resource Program prints it; Annex III 4.1 as the Finnish
Food Authority does; Annex XIV from the consolidated text of 13 March 2024; the rounding table of
the Commission's guidance on tolerances (December 2012) from memory.
"""

from __future__ import annotations

import pytest
from clause_samples import (
    allergen_sheet,
    at,
    batch_card,
    build_card,
    facts_sheet,
    findings,
    kitchen,
    label,
    sound,
)

from buildsheets.pipeline import Checked
from buildsheets.prep.nutrition import facts_of


def contains(*what: str) -> tuple[str, str]:
    return "contains: [milk]", f"contains: [{', '.join(what)}]"


FOURTEEN = (
    "gluten", "crustaceans", "eggs", "fish", "peanuts", "soya", "milk", "nuts", "celery",
    "mustard", "sesame", "sulphites", "lupin", "molluscs",
)  # fmt: skip


def test_the_fourteen_in_the_annexs_order() -> None:
    """1169/2011, Annex II: the sheet has its fourteen, in its order, and marks every place."""
    sheet = allergen_sheet(sound())
    rows = sheet.split("\n")
    header = next(row for row in rows if "lupin" in row)
    assert tuple(header.split()) == FOURTEEN
    assert next(row for row in rows if row.startswith("Cloud")).split() == [
        "Cloud", *"------C-------",
    ]  # fmt: skip
    assert "free from" not in sheet.casefold()


@pytest.mark.parametrize("cereal", ["wheat", "rye", "barley", "oats"])
def test_the_cereal_is_named(cereal: str) -> None:
    """1169/2011, Annex II 1: the cereal is named with gluten, on label and card."""
    checked = kitchen(contains("milk", cereal))
    assert checked.menu is not None
    assert f"gluten ({cereal})" in label(checked.menu, "brew", at(1))
    assert f"gluten ({cereal})" in build_card(checked, "cloud")
    assert not findings(checked, "ALG02")


def test_spelt_and_khorasan_are_wheat() -> None:
    """1169/2011, Annex II 1: wheat, such as spelt and khorasan."""
    for kind in ("spelt", "khorasan"):
        assert "gluten (wheat)" in label(sound(contains("milk", kind)), "brew", at(1))


def test_gluten_alone_is_found() -> None:
    """1169/2011, Annex II 1: gluten without its cereal is found, with the names to choose from."""
    (told,) = findings(kitchen(contains("milk", "gluten")), "ALG02")
    assert "does not say which" in told
    assert all(cereal in told for cereal in ("wheat", "rye", "barley", "oats"))


NUTS = (
    "almonds", "hazelnuts", "walnuts", "cashews", "pecans", "brazil-nuts", "pistachios",
    "macadamias",
)  # fmt: skip


@pytest.mark.parametrize("nut", [*NUTS, "queensland-nuts"])
def test_the_nut_is_named(nut: str) -> None:
    """1169/2011, Annex II 8: the nut is named; a Queensland nut is a macadamia."""
    printed = {"brazil-nuts": "Brazil nuts", "queensland-nuts": "macadamias"}.get(nut, nut)
    assert f"nuts ({printed})" in label(sound(contains("milk", nut)), "brew", at(1))


def test_nuts_alone_are_found() -> None:
    """1169/2011, Annex II 8: nuts without a name are found; pine nuts are none of the Annex's."""
    (told,) = findings(kitchen(contains("milk", "nuts")), "ALG02")
    assert all(nut in told for nut in NUTS)
    assert "pine-nuts" not in told


def test_an_allergen_nobody_declared_stops_printing() -> None:
    """1169/2011, Article 44(1)(a) with 9(1)(c): silence is no declaration; nothing is printed."""
    checked = kitchen(("    contains: [milk]\n", ""))
    assert checked.stopped
    assert any("contains" in told for told in findings(checked, "KEY02"))


def test_no_allergen_box_is_blank() -> None:
    """1169/2011, Article 44(1)(a): where nothing is declared, label and card say so and to ask."""
    menu = sound(batches="  it: {name: It, parts: [{use: water, amount: 1 kg}]}\n")
    said = "None of the 14 on the list is declared. Ask before serving."
    assert said in label(menu, "it", at(1))
    assert said in batch_card(menu)


def test_traces_are_told_apart() -> None:
    """1169/2011, Article 36(3)(a): traces are said as such, beside what is contained."""
    menu = sound(("contains: [milk]", "contains: [milk]\n    may_contain: [soya]"))
    assert "Contains milk; may contain soya" in label(menu, "brew", at(1))


# Caffeine


WATER = "salt_g: 0, caffeine_mg: 0}\n    contains: []\n    density: 0.998"
MILK = "salt_g: 0, caffeine_mg: 0}\n    contains: [milk]"
STRONG = (MILK, MILK.replace("mg: 0}", "mg: 32}") + "\n    cautions: [caffeine]")
PLAIN = """drinks:
  plain:
    name: {name}
    cups: [medium]
    price: 3
    sweetness: fixed
    ice: fixed
    build:
      - {{add: plain-milk, amount: 100 g}}
"""


def of_milk(name: str, *edits: tuple[str, str], shop: str = "") -> Checked:
    """A drink that is 100 g of the milk."""
    return kitchen(("drinks:\n", PLAIN.format(name=name)), *edits, shop=shop)


STATEMENT = {
    "en": "High caffeine content. Not recommended for children or pregnant or breast-feeding women",
    "es": "Contenido elevado de cafeína: No recomendado para niños ni mujeres embarazadas o en "
    "período de lactancia",
    "fr": "Teneur élevée en caféine. Déconseillé aux enfants et aux femmes enceintes ou "
    "allaitantes",
    "de": "Erhöhter Koffeingehalt. Für Kinder und schwangere oder stillende Frauen nicht empfohlen",
}


@pytest.mark.parametrize("language", STATEMENT)
def test_the_statement_in_the_laws_words(language: str) -> None:
    """1169/2011, Annex III 4.1: above 150 mg/l the Annex's own words, with mg/100 ml."""
    sheet = facts_sheet(of_milk("Lift", STRONG), language).replace("\u00a0", " ")
    # 32 mg in 100 g of 1.031 g/ml: 33 mg in 100 ml.
    assert f"{STATEMENT[language]} (33 mg/100 ml)" in sheet


def test_no_statement_under_the_name_of_tea_or_coffee() -> None:
    """1169/2011, Annex III 4.1: none where the name says tea or coffee, and none up to 150 mg/l."""
    assert "Milk Tea: High caffeine" not in facts_sheet(of_milk("Milk Tea", STRONG))
    assert "Matcha: High caffeine" in facts_sheet(of_milk("Matcha", STRONG))
    weak = (STRONG[0], STRONG[1].replace("32}", "14.5}"))  # 149.5 mg/l
    assert "Lift: High caffeine" not in facts_sheet(of_milk("Lift", weak))


def test_the_statement_is_judged_at_the_strongest_choice() -> None:
    """1169/2011, Annex III 4.1: as it may be sold: with no ice and no syrup it is stronger."""
    checked = kitchen((WATER, WATER.replace("mg: 0}", "mg: 31.5}")))
    serving = next(one for one in checked.servings if one.drink.id == "shaken")
    as_made = facts_of(serving).caffeine_mg_per_l.value
    assert as_made is not None
    assert as_made < 150
    told = [one for one in findings(checked, "NUT02") if "'shaken'" in one]
    # 315 mg in 1000 g of water (1002 ml) and 1031 g of milk (1000 ml).
    assert "holds up to 157 mg/l of caffeine, above the EU's 150" in told[0]
    assert "Shaken: High caffeine content" in facts_sheet(checked)


def test_a_part_without_figures_hides_no_caffeine() -> None:
    """1169/2011, Annex III 4.1: what is known is enough to warn, though a part has no figure."""
    strong = (STRONG[0], STRONG[1].replace("\n    cautions: [caffeine]", ""))
    checked = kitchen((WATER, WATER.replace(", caffeine_mg: 0}", "}")), strong)
    told = findings(checked, "NUT02")
    assert any("'shaken' in medium holds at least" in one for one in told)
    assert "Shaken: High caffeine" not in facts_sheet(checked)  # it could not say how much
    assert "Not computed, figures missing for: Water" in facts_sheet(checked)


def test_no_european_statement_for_a_us_shop() -> None:
    """1169/2011: a shop under US label rules is not given the European statement."""
    us = of_milk("Lift", STRONG, shop="  label_rules: us\n")
    assert "High caffeine content" not in facts_sheet(us)


# Nutrition


GRAMS = (
    "{per: 100 g, energy_kcal: 61, fat_g: 3.3, saturates_g: 1.9, carbohydrate_g: 4.8,\n"
    "      sugars_g: 4.8, protein_g: 3.2, salt_g: 0, caffeine_mg: 0}"
)


def facts(nutrition: str) -> list[str]:
    """The cells of a drink of 100 g of something."""
    sheet = facts_sheet(of_milk("Plain", (GRAMS, nutrition))).replace("\u00a0", " ")
    row = next(one for one in sheet.split("\n") if one.startswith("Plain"))
    return [cell.strip() for cell in row.split("  ") if cell.strip()]


def test_energy_by_the_factors() -> None:
    """1169/2011, Annex XIV: kJ and kcal by their own factors, of polyols, alcohol and fibre."""
    cells = facts(
        "{per: 100 g, fat_g: 1, saturates_g: 0.5, carbohydrate_g: 10, polyols_g: 2, sugars_g: 8, "
        "protein_g: 3, salt_g: 0.1, fibre_g: 4, alcohol_g: 1, caffeine_mg: 0}"
    )
    # 8 x 17 + 2 x 10 + 3 x 17 + 1 x 37 + 4 x 8 + 1 x 29 kJ; 8 x 4 + 2 x 2.4 + 3 x 4 + 9 + 4 x 2 + 7
    assert cells[2] == "305 kJ · 73 kcal"


def test_order_and_rounding() -> None:
    """1169/2011, Annex XV and the guidance of 2012: energy, fat, saturates, carbohydrate, sugars,
    protein, salt, each rounded as the guidance says."""
    cells = facts(
        "{per: 100 g, energy_kcal: 61.4, fat_g: 9.96, saturates_g: 0.1, carbohydrate_g: 10.4, "
        "sugars_g: 0.5, protein_g: 3.25, salt_g: 0.0125, caffeine_mg: 0}"
    )
    assert cells[2:9] == [
        "257 kJ · 61 kcal", "10 g", "under 0.1 g", "10 g", "under 0.5 g", "3.3 g", "under 0.01 g",
    ]  # fmt: skip


def test_what_is_not_known_is_not_zero() -> None:
    """1169/2011, Article 31(4): figures come from the maker, a calculation or tables; without one
    the sheet says so and names what is missing."""
    cells = facts("{per: 100 g, energy_kcal: 61, fat_g: 3.3}")
    assert cells[5] == "not computed"
    sheet = facts_sheet(of_milk("Plain", (GRAMS, "{per: 100 g, energy_kcal: 61, fat_g: 3.3}")))
    assert "Not computed, figures missing for: Milk" in sheet
