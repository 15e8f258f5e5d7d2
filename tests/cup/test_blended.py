"""Blended drinks by hand: liquid and solid ice together, times what the air adds, mass kept.

Figures on paper: ice 0.9167 g/ml (IAPWS R10-06), the heap of packing 0.55.
"""

from __future__ import annotations

import pytest
from menu_samples import SMALL, check_texts, swapped

from buildsheets.cup.blender import blended_ml, heaped_ml
from buildsheets.cup.errors import FigureError
from buildsheets.cup.measuring import blend_air_share
from buildsheets.cup.serving import Choice, Serving
from buildsheets.cup.simulate import EMPTYING
from buildsheets.menu.model import EMPTIES
from buildsheets.pipeline import Checked

SHAKEN = """\
      - {add: sweet, amount: 2 pumps, into: shaker}
      - {add: strong, amount: 200 ml, into: shaker}
      - {add: cubes, amount: 2 scoops, into: shaker}
      - {do: shake, pour: strained, station: shaking}
"""
ROOMY = "letter: S, blender: 700 ml,"


def menu(
    *, air: str = "air: 10 %", holds: str = ROOMY, base_ml: int = 200, more: str = ""
) -> Checked:
    """The small menu, its second drink blended."""
    blended = (
        SHAKEN.replace("shaker", "blender")
        .replace("do: shake, pour: strained", f"do: blend, {air}")
        .replace("200 ml", f"{base_ml} ml")
    )
    text = swapped(SMALL, SHAKEN, blended + more)
    return check_texts(swapped(text, "letter: S,", holds))


def serving(checked: Checked) -> Serving:
    return next(one for one in checked.servings if one.drink.id == "shaken")


def codes(checked: Checked) -> set[str]:
    return {one.code for one in checked.findings}


def test_ice_counts_as_solid_and_air_is_added() -> None:
    made = serving(menu())
    before, after = made.steps[-2], made.final.contents
    assert (before.vessel, before.shaker_ml) == ("blender", pytest.approx(210))
    # (10 ml + 200 ml + 80 g / 0.9167) x 1.10 = 327.0 ml; without the ice it would be 231.0
    assert after.liquid_ml == pytest.approx(327.0, abs=0.05)
    assert after.ice_g == after.ice_bulk_ml == 0.0
    assert after.heat_g_c == 0.0  # with ice in it, it is at 0 degC
    put_in = sum(used.mass_g for used in made.used)
    assert after.liquid_g == pytest.approx(put_in)


def test_a_blend_may_take_in_no_air() -> None:
    made = serving(menu(air="air: 0 %"))
    assert made.final.contents.liquid_ml == pytest.approx(210 + 80 / 0.9167, abs=0.05)


def test_less_ice_is_made_up_with_base_to_the_same_level() -> None:
    made = serving(menu())
    without = made.choices[Choice(1.0, "without")]
    # 87.3 ml of ice are made up with 85 ml of base: 5 ml is what the jug can measure
    assert without.used[1].volume_ml == pytest.approx(285)
    assert 320 < without.final.contents.liquid_ml <= made.final.contents.liquid_ml


def test_how_full_the_blender_gets() -> None:
    fit = serving(menu()).choices.fit(Choice(1.0, "regular"))
    # The heap, 80 / 0.9167 / 0.55 = 158.7 ml, floats in 210 ml: 210 + 80 g / rho of the drink,
    # and stands out of it; blended it is 327.0 ml.
    assert serving(menu()).choices.blended_at_once == 2  # 700 ml hold two of 327
    assert blended_ml(fit.build.steps, fit.after) == pytest.approx(327.0, abs=0.05)
    assert 210 + 78 * 0.9 < heaped_ml(fit.build.steps, fit.after) < 210 + 158.7


def test_a_blender_too_small_is_told_with_what_works() -> None:
    small = menu(holds="letter: S, blender: 280 ml,")
    (found,) = [one for one in small.findings if one.code == "FIT12"]
    assert "the blender holds 280 ml" in found.message
    assert "it reads 327 ml: 47 ml too much" in found.message
    assert [one.takes_up for one in found.sums[1:]] == ["327.0 ml", "280.0 ml"]
    before_ml = float(found.sums[0].takes_up.removesuffix(" ml"))
    fit = serving(menu()).choices.fit(Choice(1.0, "regular"))
    assert before_ml == pytest.approx(heaped_ml(fit.build.steps, fit.after), abs=0.05)
    amount = int((found.hint or "").split("at most ")[1].split(" ml")[0])
    assert amount == 155  # (10 + 155 + 87.3) x 1.1 = 277.5; with 160 it is 283.0
    assert "FIT12" not in codes(menu(holds="letter: S, blender: 280 ml,", base_ml=amount))
    assert "FIT12" not in codes(menu(holds="letter: S, blender: 328 ml,"))


def test_what_a_blend_must_say() -> None:
    assert "DRK12" in codes(menu(air="for: 20 s"))
    assert "DRK12" in codes(menu(holds="letter: S,"))
    assert "DRK09" in codes(menu(more="      - {add: tea, amount: 50 ml, into: blender}\n"))
    shaken = swapped(SMALL, "do: shake, pour: strained", "do: blend, air: 5 %")
    assert "DRK08" in codes(check_texts(shaken))


def test_nothing_fizzy_or_hot_is_blended() -> None:
    blended = SHAKEN.replace("shaker", "blender").replace(
        "do: shake, pour: strained", "do: blend, air: 10 %"
    )
    text = swapped(swapped(SMALL, SHAKEN, blended), "letter: S,", ROOMY)
    strong = "  strong: {from: strong-brew, tool: jug, station: bar, temperature: 5 °C"
    for written, code in (("fizzy: yes}", "GAS01"), ("cautions: [hot]}", "HOT04")):
        line = f"{strong.replace('5 °C', '80 °C') if code == 'HOT04' else strong}, {written}"
        assert code in codes(check_texts(swapped(text, strong + "}", line)))


def test_air_from_a_jar_and_a_scale() -> None:
    # 160 ml of 170 g with 120 g of ice: 290.9 ml; a jar of 250 ml holds 216.7 g of it, which is
    # 290 / 0.8668 = 334.6 ml: 15 % more
    assert blend_air_share(160, 170, 120, 250, 216.7) == pytest.approx(0.15, abs=0.001)
    assert blend_air_share(160, 170, 120, 250, 250) == 0.0
    with pytest.raises(FigureError):
        blend_air_share(160, 170, 120, 250, 300)


def test_the_engine_empties_a_vessel_where_the_menu_says_so() -> None:
    assert set(EMPTYING) == set(EMPTIES)
