"""Espresso: a shot's level, melt, caffeine, cost and plan by hand, and what cards say of it.

Heat of water 4.19 J/(g K), of melting 333.4 J/g, water at 0 °C 0.9998 g/ml, ice 0.9167 g/ml:
IAPWS-95 and IAPWS R10-06. Doses and yields are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from menu_samples import check_texts

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import Menu
from buildsheets.pipeline import Checked, check
from buildsheets.prep.batches import figure_batch, portions
from buildsheets.prep.cost import Prices
from buildsheets.prep.dayplan import plan_day
from buildsheets.prep.nutrition import facts_of, facts_of_parts, strongest
from buildsheets.print.layouts import Layouts
from buildsheets.rules.amounts import what
from buildsheets.views.addons import addons_view
from buildsheets.views.build import build_view
from buildsheets.views.station import station_view
from buildsheets.views.words_card import words_card

ESPRESSO = Path(__file__).parents[1] / "wall" / "menus" / "espresso.yaml"
TEXT = ESPRESSO.read_text("utf-8")


@pytest.fixture(scope="module")
def bar() -> Checked:
    return check(ESPRESSO)


def menu_of(checked: Checked) -> Menu:
    assert checked.menu is not None
    return checked.menu


def served(checked: Checked, drink: str, cup: str) -> Serving:
    return next(s for s in checked.servings if (s.drink.id, s.cup.id) == (drink, cup))


def codes(*edits: tuple[str, str]) -> set[str]:
    text = TEXT
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new)
    return {one.code for one in check_texts(text).findings}


def test_two_shots_over_ice_by_hand(bar: Checked) -> None:
    """8 ml of syrup of 65 °Bx (1.3165 g/ml, ICUMSA) at 20 °C and 2 x 36 g of espresso at 75 °C on
    180 g of ice: (10.53 x 20 + 72 x 75) x 4.19 / 333.4 = 70.5 g melt. The liquid is
    10.53 + 72 + 70.5 = 153.0 g in 8 + 72 / 1.02 + 70.5 / 0.9998 = 149.1 ml; the 109.5 g of ice that
    are left float and displace 109.5 / (153.0 / 149.1) = 106.7 ml: the drink stands at 255.8 ml."""
    made = served(bar, "iced-espresso", "clear")
    syrup_g = 8 * 1.3165
    melted_g = (syrup_g * 20 + 72 * 75) * 4.19 / 333.4
    assert melted_g == pytest.approx(70.5, abs=0.05)
    chilled = next(one.chilled for one in made.steps if one.chilled)
    assert chilled.temperature_c == 0.0
    assert chilled.melted_g == pytest.approx(melted_g, rel=1e-3)
    liquid_g, liquid_ml = syrup_g + 72 + melted_g, 8 + 72 / 1.02 + melted_g / 0.9998
    by_hand_ml = liquid_ml + (180 - melted_g) / (liquid_g / liquid_ml)
    assert by_hand_ml == pytest.approx(255.8, abs=0.05)
    assert made.final.liquid_level_ml == pytest.approx(by_hand_ml, abs=0.1)


def test_a_shot_over_milk_and_ice_brings_its_heat_too(bar: Checked) -> None:
    """150 ml of milk (154.5 g) at 5 °C, 16 ml of syrup (21.06 g) at 20 °C, 72 g at 75 °C:
    (772.5 + 421.3 + 5400) x 4.19 / 333.4 = 82.9 g melt."""
    made = served(bar, "iced-latte", "clear")
    chilled = next(one.chilled for one in made.steps if one.chilled)
    by_hand_g = (154.5 * 5 + 16 * 1.3165 * 20 + 72 * 75) * 4.19 / 333.4
    assert by_hand_g == pytest.approx(82.9, abs=0.05)
    assert chilled.melted_g == pytest.approx(by_hand_g, rel=1e-3)


def test_a_shot_makes_no_room_unless_the_menu_says_so() -> None:
    """Milk before the shot fills up for missing ice, as far as the recipe stands; a drink of shots
    alone, or whose milk makes no room, then stands lower, with as many shots. The
    milk keeps the level to the jug's 5 ml."""
    text = none_for_less().replace("same_amounts\n  add_ons", "same_line\n  add_ons")
    milk = "150 ml, makes_room: yes}\n      - {add: espresso, amount: 2 shots, makes_room: no}"
    assert milk in text
    bare = "150 ml}\n      - {add: espresso, amount: 2 shots}"
    fixed = bare.replace("ml}", "ml, makes_room: no}")
    for drink, build, makes_room in (
        ("iced-latte", bare, "milk"),
        ("iced-latte", fixed, "espresso"),
        ("iced-espresso", bare, "espresso"),
    ):
        made = served(check_texts(text.replace(milk, build)), drink, "clear")
        none = made.choices[replace(made.choice, ice="less")]
        assert what(made.body.step) == makes_room
        assert [one.count for one in none.used if one.component.shot] == pytest.approx([2])
        stands_ml, full_ml = none.final.liquid_level_ml, made.final.liquid_level_ml
        assert stands_ml <= full_ml
        assert (full_ml - stands_ml < 5.0) == (makes_room == "milk")


def test_a_latte_by_hand(bar: Checked) -> None:
    """Two shots are 72 / 1.02 = 70.6 ml; 270 ml of milk grow by 25 %: 340.6 ml of drink, foam to
    408.1 ml."""
    latte = served(bar, "latte", "large")
    assert latte.final.liquid_level_ml == pytest.approx(72 / 1.02 + 270)
    assert latte.final.cap_top_ml == pytest.approx(72 / 1.02 + 270 * 1.25)


def test_caffeine_is_that_of_the_dose(bar: Checked) -> None:
    """18 g of 1.2 g/100 g are 216 mg (about what is published of roasted coffee, from memory); 80 %
    end in the cup: 172.8 mg. 19 g x 0.08 % x 80 % = 12.16 mg of decaf. Twice that in two shots."""
    single, double = served(bar, "espresso", "demi"), served(bar, "iced-espresso", "clear")
    assert facts_of(single)["caffeine_mg"].value == pytest.approx(172.8)
    (decaf,) = single.drink.swaps
    assert facts_of(single.with_swap(decaf))["caffeine_mg"].value == pytest.approx(12.16)
    shots = [(one.component, one.mass_g) for one in double.used if one.component.shot]
    assert facts_of_parts(shots)["caffeine_mg"].value == pytest.approx(345.6)


def test_the_most_caffeine_is_with_as_many_add_ons_as_a_guest_may_have() -> None:
    """Two shots and two extra ones of 172.8 mg are 691.2 mg."""
    second = "  shot-again: {topping: extra-shot, amount: 1 shot, price: 0.80}\n"
    text = TEXT.replace("at_most: 1", "at_most: 2")
    text = text.replace("\nadd_ons:\n", f"\nadd_ons:\n{second}")
    text = text.replace("add_ons: [shot-more]", "add_ons: [shot-more, shot-again]")
    made = served(check_texts(text), "iced-latte", "clear")
    assert strongest(made)["caffeine_mg"].value == pytest.approx(691.2)


def test_a_share_that_nobody_said_is_missing_and_counts_whole_in_cautions() -> None:
    text = TEXT.replace(", caffeine_extracted: 80 %", "")
    made = served(check_texts(text), "espresso", "demi")
    facts = facts_of(made)["caffeine_mg"]
    assert (facts.value, facts.missing) == (None, ("espresso",))
    found = check_texts(text.replace("amount: 1 shot}\n      - {do: serve", "amount: 2 shots}\n"
                                     "      - {do: serve")).findings  # fmt: skip
    assert any(
        one.code == "NUT03" and one.subject == ("espresso", "demi") and "432 mg" in one.message
        for one in found
    )


def test_a_shot_costs_its_beans(bar: Checked) -> None:
    """18 g of 20.00 a kg are 0.36; decaf 19 g of 26.00 are 0.494."""
    single = served(bar, "espresso", "demi")
    assert Prices().drink(single).cost.exact == Fraction(36, 100)
    (decaf,) = single.drink.swaps
    exact = Prices().drink(single.with_swap(decaf)).cost.exact
    assert exact is not None
    assert float(exact) == pytest.approx(0.494)


def test_the_plan_has_beans_to_buy_and_no_shot_to_make(bar: Checked) -> None:
    """80 espressos, 60 + 2 x 40 in lattes, 2 x 30 shaken are 280 shots; of 10 decaf lattes 6 are
    small and 4 large: 14 shots of 19 g. 266 + 20 extra shots of 18 g are 5148 g."""
    menu = menu_of(bar)
    servings = {(one.drink.id, one.cup.id): one for one in bar.servings}
    plan = plan_day(menu, menu.days["saturday"], servings)
    needed = {one.ingredient.id: one.need for one in plan.purchases}
    assert needed["beans"] == pytest.approx(5148)
    assert needed["decaf"] == pytest.approx(266)
    assert (plan.batches, plan.unknown) == ((), ())


def test_beans_mixed_here_are_made_for_the_day_though_they_are_called_as_the_shot_is() -> None:
    """18 g of 70 % of 20.00 and 30 % of 26.00 a kg are 0.3924."""
    parts = "[{use: beans, amount: 700 g}, {use: decaf, amount: 300 g}]"
    blend = f"  espresso: {{name: Blend, parts: {parts}}}"
    text = TEXT.replace(
        "bases:\n  espresso: {from: beans",
        f"batches:\n{blend}\nbases:\n  espresso: {{from: espresso",
    )
    checked = check_texts(text)
    menu, single = menu_of(checked), served(checked, "espresso", "demi")
    exact = Prices().drink(single).cost.exact
    assert exact is not None
    assert float(exact) == pytest.approx(0.3924)
    plan = plan_day(
        menu, menu.days["saturday"], {(s.drink.id, s.cup.id): s for s in checked.servings}
    )
    (made,) = plan.batches
    assert sum(one.figure.yield_g or 0.0 for one in made.makings) >= 266 * 18
    assert "BAT10" not in {one.code for one in checked.findings}
    assert portions(menu, figure_batch(menu.batches["espresso"])) == ()


def test_a_swap_puts_a_shot_in_the_place_of_a_shot(bar: Checked) -> None:
    """Two shots of 36 g become two of 38 g, not as many ml."""
    latte = served(bar, "latte", "large")
    decaf = next(one for one in latte.drink.swaps if one.id == "no-caffeine")
    used = next(one for one in latte.with_swap(decaf).used if one.component.shot)
    assert (used.count, used.mass_g) == pytest.approx((2, 76))


@pytest.mark.parametrize("language", ["en", "es", "fr", "de"])
def test_the_card_says_how_each_shot_is_pulled(bar: Checked, language: str) -> None:
    menu, words = menu_of(bar), Layouts().words(language)
    view = build_view(menu, served(bar, "latte", "large"), words)
    how = words("pull_shot", dose="18 g", out="36 g", s=28)
    tool = menu.tools["portafilter"]
    assert tool.one
    assert tool.many
    one, many = words.text(tool.one), words.text(tool.many)
    assert (view.steps[0].amount, view.steps[0].unit) == ("2", many)
    assert view.steps[0].note == words("pull_each", one=one, how=how)
    (decaf,) = view.steps[0].swaps
    assert words("pull_shot", dose="19 g", out="38 g", s=26) in decaf.note
    assert how in view.add_ons[0].note
    assert words("caution_hot") in view.cautions
    extras = addons_view(menu, menu.cups["large"], bar.servings, words)
    assert extras is not None
    assert words("pull_each", one=one, how=how) in extras.tables[0].rows[0][0]
    card = words_card(menu, bar.servings, [], words)
    rows = [row for table in card.tables for row in table.rows]
    assert (f"1 {one}", f"{words.name(menu.bases['espresso'])}: {how}") in rows


def test_a_dose_of_half_a_gram_and_a_yield_in_ml_are_printed_as_written() -> None:
    """35 ml of 1.02 g/ml are 35.7 g."""
    text = TEXT.replace("shot: {dose: 18 g, yield: 36 g,", "shot: {dose: 17.5 g, yield: 35 ml,")
    checked = check_texts(text)
    made, words = served(checked, "espresso", "demi"), Layouts().words("en")
    assert made.used[0].mass_g == pytest.approx(35.7)
    step = build_view(menu_of(checked), made, words).steps[0]
    assert (step.amount, step.unit, step.tool) == ("1", "shot", "35 ml")
    assert step.note == "each shot: 17.5 g ground coffee to 35 ml in 28 s"


def test_the_card_keeps_the_beans_not_the_shot(bar: Checked) -> None:
    words = Layouts().words("en")
    view = build_view(menu_of(bar), served(bar, "espresso", "demi"), words)
    assert words("keeps_days", name="House beans", count=14) in view.keeps


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("density: 1.02 g/ml, ", "", "how much room a shot takes"),
        ("temperature: 75 °C, ", "", "how hot it is"),
        ("temperature: 75 °C, tool: portafilter", "temperature: 75 °C, tool: jug", "a jug"),
        ("amount: 1 shot}\n      - {do: serve", "amount: 36 ml}\n      - {do: serve", "36 ml"),
        ("amount: 1 shot}\n      - {do: serve", "fill_to: 40 ml}\n      - {do: serve", "filter"),
        ("step: 1 shot, one", "step: 1 shot, holds: 36 g, one", "counts shots"),
        ("step: 1 shot, one", "step: 1 pump, one", "counts shots"),
    ],
)  # fmt: skip
def test_what_a_shot_lacks_is_an_error_that_says_so(old: str, new: str, says: str) -> None:
    assert old in TEXT
    found = check_texts(TEXT.replace(old, new)).findings
    assert any(one.code == "SHOT01" and says in one.message for one in found)


def test_a_count_of_shots_of_what_is_no_shot_is_refused() -> None:
    found = check_texts(TEXT.replace("amount: 1 pump}", "amount: 1 shot}")).findings
    (wrong,) = (one for one in found if one.code == "TOOL02")
    assert wrong.hint.startswith("add shot: {dose: 18 g, yield: 36 g, for: 28 s}")
    assert "kind portafilter" in wrong.hint
    how = "shot: {dose: 18 g, yield: 36 g, for: 28 s, caffeine_extracted: 80 %}, "
    found = check_texts(TEXT.replace(f"name: Espresso, {how}", "name: Espresso, ")).findings
    hints = {one.hint for one in found if one.code == "TOOL01"}
    assert hints == {"add shot: {dose: 18 g, yield: 36 g, for: 28 s}, as it is pulled"}


CHILL = "      - {do: chill}\n"
STIR = "      - {do: stir, for: 5 s}\n"


def test_a_shot_on_ice_that_is_only_stirred_is_told_with_its_melt() -> None:
    """In the iced latte 82.9 g; two shots alone are warmer than 30 °C and an error of their own. So
    is the latte with a third, which leaves room for 120 ml of milk: (618 + 421.3 + 8100) / (123.6
    + 21.1 + 108) = 36.2 °C."""
    found = check_texts(TEXT.replace(CHILL, STIR)).findings
    (note,) = (one for one in found if one.code == "SHOT03")
    assert note.subject == ("iced-latte", "clear")
    assert "melt 83 g of ice" in note.message
    warm = {one.subject: one.message for one in found if one.code == "HOT02"}
    assert set(warm) == {("iced-espresso", "clear"), ("iced-latte", "clear")}
    assert "iced-latte in clear with shot-more: the drink is 36 °C" in warm["iced-latte", "clear"]
    assert "SHOT03" not in codes()
    assert [one.text for one in note.labels] == ["poured at 75 °C"]
    american = TEXT.replace("measures: metric", "measures: us_customary")
    found = check_texts(american.replace(CHILL, STIR)).findings
    assert [one.text for told in found if told.code == "SHOT03" for one in told.labels] == [
        "poured at 167 °F (75 °C)"
    ]


def test_an_extra_shot_goes_in_before_the_chill_that_the_milk_follows() -> None:
    """16 ml of syrup (21.06 g) at 20 °C and 3 x 36 g at 75 °C: (421.3 + 8100) x 4.19 / 333.4 =
    107.1 g of the 180 g of ice melt."""
    milk, shots = (f"      - {{add: {one}}}\n" for one in (
        "milk, amount: 150 ml, makes_room: yes", "espresso, amount: 2 shots, makes_room: no",
    ))  # fmt: skip
    assert milk + shots + CHILL in TEXT
    text = TEXT.replace(milk + shots + CHILL, shots + CHILL + milk.replace("150 ml", "100 ml"))
    checked = check_texts(text)
    made = served(checked, "iced-latte", "clear")
    view = build_view(menu_of(checked), made, Layouts().words("en"))
    assert [(one.name, one.place) for one in view.add_ons] == [("Extra shot", "after step 3")]
    assert [step.what for step in view.steps][2:4] == ["Espresso", "Stir until cold"]
    extra = made.choices[replace(made.choice, add_ons=("shot-more",))]
    chilled = next(one.chilled for one in extra.steps if one.chilled)
    by_hand_g = (16 * 1.3165 * 20 + 108 * 75) * 4.19 / 333.4
    assert by_hand_g == pytest.approx(107.1, abs=0.05)
    assert chilled.melted_g == pytest.approx(by_hand_g, rel=1e-3)
    assert "SHOT03" not in {one.code for one in checked.findings}


def test_a_shot_on_layers_is_not_told_to_chill_which_would_mix_them() -> None:
    layers = TEXT.replace(CHILL, "").replace(
        "    price: 4.40\n", "    price: 4.40\n    layered: yes\n"
    )
    (note,) = (one for one in check_texts(layers).findings if one.code == "SHOT03")
    assert note.subject == ("iced-latte", "clear")
    assert note.hint.startswith("layers are not stirred: ")
    stirred = layers.replace(
        "makes_room: no}\n      - {do: lid", f"makes_room: no}}\n{CHILL}      - {{do: lid"
    )
    assert "LAY02" in {one.code for one in check_texts(stirred).findings}
    plain = stirred.replace("    layered: yes\n", "")
    assert not {"LAY02", "SHOT03"} & {one.code for one in check_texts(plain).findings}


ICE_FIRST = "      - {add: cubes, amount: 3 scoops, into: shaker}\n"
SHOT = "      - {add: espresso, amount: 2 shots, into: shaker, makes_room: no}\n"


def test_shots_are_shaken_only_on_ice_that_is_left() -> None:
    """72 g at 75 °C melt 68 g: of 180 g of ice 112 g are left, of 60 g nothing."""
    assert "HOT04" not in codes()
    assert "HOT04" in codes((ICE_FIRST, ""), (SHOT, SHOT + ICE_FIRST))
    assert "HOT04" in codes((ICE_FIRST, ICE_FIRST.replace("3 scoops", "1 scoop")))
    assert "HOT04" in codes(("share: 75 %", "share: 0 %"))


BLENDED = (
    ("into: shaker", "into: blender"),
    ("do: shake, pour: dumped, for: 10 s", "do: blend, air: 10 %"),
    ("letter: E,", "letter: E, blender: 900 ml,"),
)


def test_shots_are_blended_only_on_ice_that_is_left() -> None:
    """The same 72 g at 75 °C in the blender, which is shut too."""
    ice, shot = (one.replace("shaker", "blender") for one in (ICE_FIRST, SHOT))
    assert "HOT04" not in codes(*BLENDED)
    assert "HOT04" in codes(*BLENDED, (ice, ""), (shot, shot + ice))
    assert "HOT04" in codes(*BLENDED, (ice, ice.replace("3 scoops", "1 scoop")))


COLD = """    price: 4.60
    ice: fixed
    sweetness: fixed
    add_ons: [shot-more]
    build:
      - {add: milk, amount: 200 ml, into: shaker}
      - {do: shake, pour: dumped, for: 10 s, station: machine}
      - {do: lid, station: end}
days:
"""


def cold_with_an_extra_shot(
    more: str = "", into: str = "into: shaker", *edits: tuple[str, str]
) -> Checked:
    """The shaken drink made of milk alone, with an extra shot offered."""
    cold = COLD.replace("    build:\n", f"    build:\n{more}").replace("into: shaker", into)
    if into == "into: cup":
        cold = "".join(line for line in cold.splitlines(True) if "do: shake" not in line)
    begins, ends = TEXT.index("    price: 4.60\n"), TEXT.index("days:\n")
    text = TEXT[:begins] + cold + TEXT[ends + len("days:\n") :]
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new)
    return check_texts(text)


def test_an_extra_shot_is_judged_in_the_shaker_too() -> None:
    """An add-on goes where the base goes: 36 g at 75 °C into a shaker without ice."""
    (told,) = (one for one in cold_with_an_extra_shot().findings if one.code == "HOT04")
    assert "'extra-shot' is 75 °C and is shaken in a closed shaker" in told.message
    assert told.subject == ("shaken", "clear")
    assert "HOT04" not in {one.code for one in cold_with_an_extra_shot(ICE_FIRST).findings}


def test_an_extra_shot_is_judged_in_a_cold_cup_too() -> None:
    """It goes in before the milk, into the empty cup; ice there cools it."""
    found = cold_with_an_extra_shot(into="into: cup").findings
    (told,) = (one for one in found if one.code == "HOT01")
    assert "extra-shot at 75 °C goes into clear, which is not a cup for hot drinks" in told.message
    ice = ICE_FIRST.replace(", into: shaker", "")
    assert "HOT01" not in {
        one.code for one in cold_with_an_extra_shot(ice, into="into: cup").findings
    }


SHOTS_ADDED = ("large: 1 shot, clear: 1 shot", "large: 1 shot, clear: 2 shots")
ICE_IN_CUP = ICE_FIRST.replace(", into: shaker", "")


def only(checked: Checked, code: str) -> list[str]:
    return [one.message for one in checked.findings if one.code == code]


def test_the_melt_of_an_extra_shot_on_ice_is_told_too() -> None:
    """36 g at 75 °C and 206 g of milk at 5 °C: (2700 + 1030) x 4.19 / 333.4 = 46.9 g."""
    stirred = cold_with_an_extra_shot(ICE_IN_CUP, "into: cup")
    (told,) = only(stirred, "SHOT03")
    assert told.startswith("shaken in clear with shot-more: 'extra-shot' and what it is poured on")
    assert "melt 47 g of ice" in told
    chills = ("ml, into: cup}\n", f"ml, into: cup}}\n{CHILL}")
    assert only(cold_with_an_extra_shot(ICE_IN_CUP, "into: cup", chills), "SHOT03") == []


def test_a_drink_that_an_extra_shot_makes_warm_on_its_ice_is_told() -> None:
    """36 g at 75 °C and 30.9 g of milk at 5 °C are (2700 + 155) / 66.9 = 42.7 °C."""
    little = ("amount: 200 ml", "amount: 30 ml")
    (told,) = only(cold_with_an_extra_shot(ICE_IN_CUP, "into: cup", little), "HOT02")
    assert told.startswith("shaken in clear with shot-more: the drink is 43 °C warm")


def test_a_drink_that_ends_warm_with_extra_shots_is_told() -> None:
    """206 g of milk at 5 °C alone melt 13 g of 30 g of ice; with 72 g at 75 °C all of it melts:
    (1030 + 5400) x 4.19 - 30 x 333.4 = 16,940 J in 308 g are 13.1 °C."""
    ice = ICE_IN_CUP.replace("3 scoops", "1/2 scoop")
    chills = ("ml, into: cup}\n", f"ml, into: cup}}\n{CHILL}")
    (told,) = only(cold_with_an_extra_shot(ice, "into: cup", chills, SHOTS_ADDED), "HOT03")
    assert told.startswith("shaken in clear with shot-more: all the ice melts and the drink ends")
    assert "at 13 °C, above 5 °C" in told


def test_what_is_poured_hot_out_of_the_shaker_scalds_as_well() -> None:
    poured = (
        ("add: milk, amount: 200 ml", "add: hot-water, amount: 200 ml"),
        ("do: shake, pour: dumped, for: 10 s", "do: pour"),
    )  # fmt: skip
    (told,) = only(cold_with_an_extra_shot("", "into: shaker", *poured), "HOT01")
    assert told.startswith("shaken: what is in the shaker at 62 °C goes into clear, which is not")
    assert only(cold_with_an_extra_shot("", "into: shaker", poured[1]), "HOT01") == []
    # with the ice of the shaker it comes cold
    assert only(cold_with_an_extra_shot(ICE_FIRST, "into: shaker", *poured), "HOT01") == []


def test_a_shot_without_the_ice_it_goes_onto_scalds() -> None:
    """10.5 g of syrup at 20 °C and 72 g at 75 °C are 68 °C in the empty cup; over milk 28 °C."""
    none = TEXT.replace("share: 75 %", "share: 0 %")
    found = {one.subject: one for one in check_texts(none).findings if one.code == "HOT01"}
    assert set(found) == {("iced-espresso", "clear"), ("shaken", "clear")}
    told = found["iced-espresso", "clear"]
    assert "espresso at 75 °C goes into clear, asked for with the ice at 'less'" in told.message
    assert told.hint == "pour what is cold before it, or write ice: fixed at the drink"
    fixed = none.replace(
        "    price: 2.80\n    build:", "    price: 2.80\n    ice: fixed\n    build:"
    )
    left = {one.subject for one in check_texts(fixed).findings if one.code == "HOT01"}
    assert left == {("shaken", "clear")}


def test_a_drink_that_only_an_extra_shot_makes_very_hot_is_told(bar: Checked) -> None:
    """260 ml of water (259.5 g) at 62 °C and 72 g at 75 °C are 64.8 °C, with 36 g more 65.8 °C;
    180 ml (179.6 g) and 36 g are 64.2 °C, with 36 g more 65.7 °C. IARC Monographs 116: 65 °C."""
    found = {one.subject: one.message for one in bar.findings if one.code == "HOT05"}
    assert set(found) == {("espresso", "demi"), ("americano", "small"), ("americano", "large")}
    assert "'americano' in large with shot-more is about 66 °C" in found["americano", "large"]


def test_a_hot_shot_goes_into_a_cold_cup_onto_cold_milk_or_ice() -> None:
    """150 ml of milk at 5 °C and 72 g at 75 °C are 28 °C; without milk and ice it is too hot."""
    ice = "      - {add: cubes, amount: 3 scoops}\n"
    milk = "      - {add: milk, amount: 150 ml, makes_room: yes}\n"
    shots = "      - {add: espresso, amount: 2 shots, makes_room: no}\n"
    assert "HOT01" not in codes((ice + milk + shots, milk + shots + ice))
    assert "HOT01" in codes((ice + milk + shots, shots + milk + ice))


def test_a_shot_as_usual_is_not_told_of(bar: Checked) -> None:
    assert "SHOT02" not in {one.code for one in bar.findings}
    how = "dose: 18 g, yield: 36 g, for: 28 s"
    for unusual in (
        how.replace("36 g", "17 g"), how.replace("36 g", "55 g"), how.replace("28 s", "19 s"),
        how.replace("28 s", "41 s"),
    ):  # fmt: skip
        assert "SHOT02" in codes((how, unusual))
    for least, most in ((18, 20), (54, 40)):  # of its dose once and three times, in 20 and 40 s
        assert "SHOT02" not in codes((how, f"dose: 18 g, yield: {least} g, for: {most} s"))


def test_half_a_shot_takes_half_the_beans() -> None:
    text = TEXT.replace("step: 1 shot", "step: 1/2 shot")
    text = text.replace(
        "amount: 1 shot}\n      - {do: serve", "amount: 1/2 shot}\n      - {do: serve"
    )
    made = served(check_texts(text), "espresso", "demi")
    assert (made.used[0].count, made.used[0].mass_g) == pytest.approx((0.5, 18))
    assert Prices().drink(made).cost.exact == Fraction(18, 100)


def test_decaf_that_may_contain_nuts_says_so(bar: Checked) -> None:
    made = served(bar, "espresso", "demi")
    (decaf,) = made.drink.swaps
    assert made.allergens().verdict("nuts") == "none-declared"
    assert made.with_swap(decaf).allergens().verdict("nuts") == "may-contain"


def test_beans_that_have_run_out_stop_the_drinks_they_are_pulled_into() -> None:
    from buildsheets.prep.sales import not_sold_now

    menu = check_texts(TEXT.replace("decaf: {name:", "decaf: {sold_out: yes, name:")).menu
    assert menu is not None
    assert [one.what.id for one in not_sold_now(menu)] == ["no-caffeine"]


def none_for_less() -> str:
    """The menu with no ice in the place of less ice."""
    text = TEXT.replace("{en: Less ice, es: Menos hielo, fr: Moins de glace, de: Weniger Eis}, "
                        "share: 75 %", "{en: No ice, es: Sin hielo, fr: Sans glace, de: Ohne Eis}, "
                        "share: 0 %")  # fmt: skip
    assert text != TEXT
    return text


@pytest.mark.parametrize(
    ("language", "says"),
    [
        ("en", "not with No ice"),
        ("es", "no con Sin hielo"),
        ("fr", "pas avec Sans glace"),
        ("de", "nicht mit Ohne Eis"),
    ],
)
def test_nobody_stirs_until_cold_what_has_no_ice(language: str, says: str) -> None:
    checked, words = check_texts(none_for_less()), Layouts().words(language)
    view = build_view(menu_of(checked), served(checked, "iced-latte", "clear"), words)
    (chill,) = (one for one in view.steps if one.what == words("do_chill"))
    assert says in chill.note.split(", ")
    made = served(check_texts(TEXT), "iced-latte", "clear")  # never without ice
    less = made.choices[replace(made.choice, ice="less")]
    assert not any(one.idle for one in less.steps)
    steps = build_view(menu_of(checked), made, words).steps
    assert not any(says in one.note for one in steps)


@pytest.mark.parametrize("language", ["en", "es", "fr", "de"])
def test_a_hot_shot_in_the_shaker_is_cautioned_of_where_it_is_shaken(
    bar: Checked, language: str
) -> None:
    menu, words = menu_of(bar), Layouts().words(language)
    made = served(bar, "shaken", "clear")
    build = build_view(menu, made, words)
    station = station_view(menu, menu.stations["machine"], made.cup, [made], words)
    assert station is not None
    (row,) = station.rows
    for steps in (build.steps, row.adds):
        shake = next(one for one in steps if one.what == words("do_shake_dumped_for", s=10))
        assert words("shakes_hot") in shake.note
    cold = check_texts(TEXT.replace("temperature: 75 °C", "temperature: 5 °C"))
    plain = build_view(menu_of(cold), served(cold, "shaken", "clear"), words)
    assert not any(words("shakes_hot") in one.note for one in plain.steps)
    text = TEXT
    for old, new in BLENDED:
        text = text.replace(old, new)
    for checked in (check_texts(text), cold_with_an_extra_shot(ICE_FIRST)):
        view = build_view(menu_of(checked), served(checked, "shaken", "clear"), words)
        (warned,) = (one for one in view.steps if words("shakes_hot") in one.note)
        assert warned.what in (words("do_shake_dumped_for", s=10), words("do_blend"))


def test_a_row_that_begins_in_the_shaker_has_it_empty(bar: Checked) -> None:
    """The same row pours the shaker and then milk into the cup."""
    menu, words = menu_of(bar), Layouts().words("en")
    clear = [one for one in bar.servings if one.cup.id == "clear"]
    card = station_view(menu, menu.stations["machine"], menu.cups["clear"], clear, words)
    assert card is not None
    begins = {row.drink: row.arrives_at for row in card.rows}
    assert begins["Shaken espresso"] == words("empty_shaker")
    assert begins["Iced latte"] == words("empty_cup")


def test_a_machine_cautions_of_the_coffee_that_goes_in_there(bar: Checked) -> None:
    """Of all its drinks, so the card says it once; a row says no more of the extra shot."""
    menu, words = menu_of(bar), Layouts().words("en")
    card = station_view(menu, menu.stations["machine"], menu.cups["clear"], bar.servings, words)
    assert card is not None
    assert words("caution_caffeine") in card.cautions
    assert not any(words("caution_caffeine") in row.check for row in card.rows)
