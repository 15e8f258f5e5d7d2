"""Cautions whose source is no food law, a test a source: scalds, very hot drinks, honey, choking,
caffeine, children; what a person reads."""

from __future__ import annotations

import pytest
from clause_samples import batch_card, build_card, facts_sheet, findings, kitchen, one_batch

from buildsheets.pipeline import Checked

LANGUAGES = ("en", "es", "fr", "de")
STEAMED = """bases:
  hot-milk:
    {{name: Steamed milk, from: milk, tool: jug, station: bar, temperature: {at} °C{more}}}
"""
KEPT = (
    "    contains: [milk]\n",
    "    contains: [milk]\n    keeps_for: 3 days\n    keeps_at: 5 °C\n",
)
WARM = """drinks:
  warm:
    name: Warm
    cups: [medium]
    price: 3
    sweetness: fixed
    ice: fixed
    build:
      - {add: hot-milk, amount: 200 ml}
"""


def warm(degrees: float, more: str = ", cautions: [hot]") -> Checked:
    """A drink of milk steamed to so many degrees."""
    base = STEAMED.format(at=f"{degrees:g}", more=more)
    return kitchen(("bases:\n", base), ("drinks:\n", WARM), KEPT)


SAUCE = """toppings:
  sauce: {from: milk, behaves: liquid, tool: jug, station: bar, temperature: 70 °C}
"""
SAUCED = "add_ons:\n  add-sauce: {topping: sauce, amount: 10 ml}\n  add-pearls"


def test_a_scald_is_cautioned() -> None:
    """US CPSC document 5098: above 60 °C the card says that it scalds, and silence is found."""
    assert "Hot: it can scald." in build_card(warm(62), "warm")
    (told,) = findings(warm(62, ""), "CAU03")
    asked = ("add_ons: [add-pearls]", "add_ons: [add-sauce]")
    sauced = kitchen(("toppings:\n", SAUCE), ("add_ons:\n  add-pearls", SAUCED), asked)
    (sauce,) = findings(sauced, "CAU03")
    assert "'sauce' is poured at 70 °C, above 60 °C, and carries no scald caution" in sauce
    assert "above 60 °C, and carries no scald caution" in told
    assert not findings(warm(60, ""), "CAU03")


def test_a_batch_scalds_by_its_own_steps() -> None:
    """US CPSC document 5098: a batch that is boiled scalds whoever makes it; a cold one made of it
    does not."""
    boiled = (
        "{name: Base, parts: [{use: water, amount: 1 kg}], cautions: [hot], keeps_for: 3 days, "
        "keeps_at: 5 °C, steps: [{do: Pour, temperature: 95 °C}]}"
    )
    foam = (
        "{name: Foam, parts: [{use: it, amount: 1 kg}], keeps_for: 3 days, keeps_at: 5 °C, "
        "steps: [{do: Froth, temperature: 5 °C}]}"
    )
    menu = one_batch(f"{boiled}\n  foam: {foam}")
    assert "Hot: it can scald." in batch_card(menu)
    assert "scald" not in batch_card(menu, "foam")
    assert "Hot: it can scald." in batch_card(one_batch(boiled.replace(" cautions: [hot],", "")))


def test_very_hot_drinks_are_found() -> None:
    """IARC Monographs 116 (2018): a drink above 65 °C is found, one at 65 °C is not."""
    (told,) = findings(warm(66), "HOT05")
    assert "about 66 °C when it is handed over, above 65 °C" in told
    assert not findings(warm(65), "HOT05")


def test_a_drink_that_only_an_add_on_makes_very_hot_is_found() -> None:
    """IARC Monographs 116 (2018): 206.2 g at 64 °C and 30.9 g at 90 °C are 67.4 °C."""
    base = STEAMED.format(at="64", more=", cautions: [hot]")
    sauce = SAUCE.replace("70 °C", "90 °C, cautions: [hot]")
    asked = (
        ("bases:\n", base),
        ("toppings:\n", sauce),
        ("add_ons:\n  add-pearls", SAUCED.replace("10 ml", "30 ml")),
    )
    plain = kitchen(*asked, ("drinks:\n", WARM))
    assert not findings(plain, "HOT05")
    offered = WARM.replace("    build:\n", "    add_ons: [add-sauce]\n    build:\n")
    (told,) = findings(kitchen(*asked, ("drinks:\n", offered)), "HOT05")
    assert "'warm' in medium with add-sauce is about 67 °C" in told


def test_a_hot_tea_asked_for_without_ice_is_found() -> None:
    """IARC Monographs 116 (2018): so is one that only the ice would have cooled, and a guest may
    leave that out."""
    hot = (
        "bar, temperature: 5 °C}\n  strong:",
        "bar, temperature: 90 °C, cautions: [hot]}\n  strong:",
    )
    milk = ("{add: plain-milk, amount: 100 ml}", "{add: plain-milk, amount: 20 ml}")
    told = findings(kitchen(hot, milk, ("- {do: stir, for: 5 s}", "- {do: chill}")), "HOT05")
    assert told
    assert all("asked for with the ice at 'without', above 65 °C" in one for one in told)
    poured = "    cups: [medium, tall, poured]\n"
    always = kitchen(hot, milk, (poured, f"{poured}    ice: fixed\n"))
    assert findings(always, "HOT02")  # its ice melts unsaid: what is left of it is not very hot
    assert not findings(always, "HOT05")


def test_steamed_milk_does_not_keep_as_milk_does() -> None:
    """Milk in the pitcher: it keeps three days cold once opened; steamed it does not, and no card
    says so."""
    card = build_card(warm(62), "warm")
    assert "Milk 3 days" in card
    assert "Steamed milk 3 days" not in card
    assert "Steamed milk" in card


COLD = "keeps_for: 1 days, keeps_at: 5 °C"
HONEY = (
    "  pearl-tin:\n",
    "  clover:\n    {name: Clover honey, contains: [], density: 1.42 g/ml, density_source: table, "
    "cautions: [honey]}\n  pearl-tin:\n",
)


def test_honey_not_under_12_months() -> None:
    """INSPQ, infant botulism: never under 12 months, on the card of whatever honey went into, two
    batches deep, in each language."""
    first = f"{{name: First, parts: [{{use: clover, amount: 1 kg}}], {COLD}}}"
    second = f"{{name: Second, parts: [{{use: first, amount: 1 kg}}], {COLD}}}"
    inside = ("batches:\n", f"batches:\n  first: {first}\n  second: {second}\n")
    base = ("{from: brew, tool: jug, station: bar", "{from: second, tool: jug, station: bar")
    checked = kitchen(HONEY, inside, base)
    assert checked.menu is not None
    for language in LANGUAGES:
        assert "12 " in build_card(checked, "cloud", language)
    assert "Honey: never under 12 months." in build_card(checked, "cloud")
    assert "Honey: never under 12 months." in batch_card(checked.menu, "second")
    silent = kitchen((HONEY[0], HONEY[1].replace(", cautions: [honey]", "")), inside, base)
    (told,) = findings(silent, "CAU01")
    assert "honey" in told


@pytest.mark.parametrize("language", LANGUAGES)
def test_pearls_choke_and_the_card_says_whom(language: str) -> None:
    """BfR, 3 August 2012: topping pearls, children up to four above all; the card says the age."""
    word = {"en": "under 5", "es": "menores de 5", "fr": "moins de 5 ans", "de": "unter 5"}[
        language
    ]
    assert word in build_card(kitchen(), "cloud", language)


def test_a_topping_that_sinks_without_its_caution_is_found() -> None:
    """BfR, 3 August 2012: a settled topping without the choking caution is found."""
    (told,) = findings(kitchen(("    cautions: [choking]\n", "")), "CAU02")
    assert "'pearls' settles in the cup and carries no choking caution" in told


def test_the_single_dose_of_caffeine() -> None:
    """EFSA Journal 2015;13(5):4102: above 200 mg in one drink there is a finding and a mark."""
    milk = "salt_g: 0, caffeine_mg: 0}\n    contains: [milk]"
    strong = (
        milk,
        milk.replace("mg: 0}", "mg: 120}").replace("[milk]", "[milk]\n    cautions: [caffeine]"),
    )
    checked = kitchen(strong)
    assert any("above the 200 mg of a single dose" in told for told in findings(checked, "NUT03"))
    assert "! more than 200 mg of caffeine" in facts_sheet(checked)
    assert "Caffeine: not for children; limit it in pregnancy." in build_card(checked, "cloud")


# Children


KID = """drinks:
  kid:
    name: Kid
    cups: [medium]
    price: 3
    for_children: yes
{more}    build:
      - {add}
      - {{add: plain-milk, amount: 100 ml}}
"""


def kid(add: str, *edits: tuple[str, str], more: str = "") -> list[str]:
    """What is found of a children's drink of milk and something else."""
    drink = KID.format(add=add, more="".join(f"    {line}\n" for line in more.split("\n") if line))
    return findings(kitchen(("drinks:\n", drink), *edits), "CHD01")


SWEET = "{add: sweet, amount: 2 pumps}"


def test_milk_and_syrup_are_for_children() -> None:
    """Children: nothing is found of milk and syrup."""
    assert kid(SWEET) == []


def test_no_pearls_for_children() -> None:
    """BfR, 3 August 2012: a children's drink refuses pearls, with the age, cautioned or not."""
    pearls = "{add: pearls, amount: 1 scoop}"
    for edits in ([], [("    cautions: [choking]\n", "")]):
        (told,) = kid(pearls, *edits)
        assert "'kid' in medium is for children and has choking (children up to 4 above all" in told
        assert "pearls" in told


def test_no_loose_pieces_that_swim_for_children() -> None:
    """BfR, 3 August 2012: nor small pieces that swim, cautioned or not."""
    plums = (
        "ice:\n  cubes",
        "  plums: {from: milk, behaves: swimming, density: 0.9 g/ml, bulk_density: 0.6 g/ml, "
        "tool: scoop, station: bar}\nice:\n  cubes",
    )
    (told,) = kid("{add: plums, amount: 1 scoop}", plums)
    assert "has choking" in told
    assert "plums" in told
    (silent,) = findings(kitchen(plums), "CAU02")
    assert "'plums' swims in the drink and carries no choking caution" in silent


def test_no_pearls_as_an_add_on() -> None:
    """BfR, 3 August 2012: nor are they offered with it."""
    (told,) = kid(SWEET, more="add_ons: [add-pearls]")
    assert "choking" in told
    assert "add-pearls" in told


def test_a_childrens_cup_is_for_children_whatever_is_in_it() -> None:
    """BfR and EFSA: every drink sold in a children's cup is judged, in no other of its cups."""
    checked = kitchen(("    lid: flat\n", "    lid: flat\n    for_children: yes\n"))
    told = findings(checked, "CHD01")
    # Cloud has pearls and ice; shaken has ice, which small children choke on too (Hong Kong Centre
    # for Food Safety, choking hazards).
    assert [one.split(" is for")[0] for one in told] == ["'cloud' in medium", "'shaken' in medium"]
    assert "cubes" in told[1]
    assert checked.stopped


def brewed(leaf: str) -> list[tuple[str, str]]:
    """A leaf brewed with syrup that has no figures, and a tea of that brew."""
    parts = "{use: leaf, amount: 50 g}, {use: dumb, amount: 100 g}, {use: water, amount: 1 kg}"
    first = f"{{name: First, brew: leaf, parts: [{parts}], density: 1 g/ml, {COLD}}}"
    second = f"{{name: Second, parts: [{{use: first, amount: 1 kg}}], {COLD}}}"
    dumb = "  dumb: {name: Dumb, contains: [], density: 1 g/ml, density_source: x}\n"
    ingredients = f"  leaf: {{name: Leaf, contains: []{leaf}}}\n{dumb}  pearl-tin:\n"
    return [
        ("  pearl-tin:\n", ingredients),
        ("batches:\n", f"batches:\n  first: {first}\n  second: {second}\n"),
        (
            "bases:\n",
            "bases:\n  deep: {from: second, tool: jug, station: bar, temperature: 5 °C}\n",
        ),
    ]


def test_caffeine_two_batches_deep_is_seen() -> None:
    """EFSA Journal 2015;13(5):4102: caffeine in a children's drink is refused, through brews inside
    batches, though another part has no figures."""
    leaf = ", nutrition: {per: 100 g, caffeine_mg: 1900}"
    (told,) = kid("{add: deep, amount: 50 ml}", *brewed(leaf))
    assert "has caffeine (3 mg a kg of body weight is the most for children" in told
    assert "deep" in told


def test_a_leaf_without_figures_counts_as_caffeine() -> None:
    """EFSA Journal 2015;13(5):4102: a brewed leaf nobody measured is taken to hold caffeine; one
    said to hold none is not."""
    (told,) = kid("{add: deep, amount: 50 ml}", *brewed(""))
    assert "caffeine" in told
    assert (
        kid("{add: deep, amount: 50 ml}", *brewed(", nutrition: {per: 100 g, caffeine_mg: 0}"))
        == []
    )


def test_what_is_not_brewed_and_has_no_figures_is_no_caffeine() -> None:
    """EFSA Journal 2015;13(5):4102: silence counts as caffeine of a brewed leaf alone."""
    syrup = ("bases:\n", "bases:\n  odd: {from: dumb, tool: jug, station: bar}\n")
    assert kid("{add: odd, amount: 10 ml}", *brewed("")[:2], syrup) == []


def test_what_only_another_choice_brings_is_seen() -> None:
    """EFSA Journal 2015;13(5):4102: a syrup with caffeine counts though the default has none."""
    syrup = "sugars_g: 65, protein_g: 0, salt_g: 0, caffeine_mg: 0}"
    edits = (
        (syrup, syrup.replace("caffeine_mg: 0", "caffeine_mg: 20")),
        ("default: 100 %, with_less_sweet", "default: 0 %, with_less_sweet"),
    )
    (told,) = kid(SWEET, *edits)
    assert "caffeine" in told
    assert "sweet" in told


def test_a_reason_allows_it() -> None:
    """Children: a written reason allows one thing, and no other."""
    allowed = "allowed_for_children: {choking: cut to 3 mm}"
    assert kid("{add: pearls, amount: 1 scoop}", more=allowed) == []
    (told,) = kid("{add: pearls, amount: 1 scoop}", more=f"{allowed}\ncautions: [caffeine]")
    assert "has caffeine" in told
