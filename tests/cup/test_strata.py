"""Drinks in layers: what stays apart, and where ice floats in them, against sums by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import build_samples as b
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets import api
from buildsheets.cup.contents import Contents, levels, poured_to
from buildsheets.cup.scan import figure
from buildsheets.cup.serving import Serving
from buildsheets.cup.strata import APART_G_ML, Strata, Stratum, among_ice_ml, poured_on
from buildsheets.menu.model import AddStep, DoStep
from buildsheets.pipeline import check
from buildsheets.print.layouts import Layouts
from buildsheets.views.build import build_view

PROMENADE = Path(__file__).parents[1] / "wall" / "menus" / "promenade.yaml"
HEAVY, LIGHT = b.s.component("heavy", None, density_g_ml=1.2), b.TEA
pours = st.lists(st.tuples(st.floats(1, 200), st.floats(0.9, 1.4)), min_size=1, max_size=6)


def made(*steps: AddStep | DoStep, layered: bool = True) -> Serving:
    return figure(replace(b.drink(*steps), layered=layered), b.CUP)


def strata(poured: list[tuple[float, float]]) -> Strata:
    found: Strata = ()
    for ml, density in poured:
        found = poured_on(found, ml, ml * density)
    return found


@given(pours)
def test_the_heaviest_is_lowest_and_nothing_is_lost(poured: list[tuple[float, float]]) -> None:
    found = strata(poured)
    densities = [one.density_g_ml for one in found]
    gaps = pairwise(densities)
    assert all(low - high > APART_G_ML for low, high in gaps)
    assert sum(one.ml for one in found) == pytest.approx(sum(ml for ml, _ in poured))
    assert sum(one.g for one in found) == pytest.approx(sum(ml * rho for ml, rho in poured))


def test_a_liquid_stays_on_one_heavier_by_more_than_the_limit() -> None:
    assert len(strata([(100, 1.0101 + 1e-6), (100, 1.0)])) == 2
    assert len(strata([(100, 1.0099), (100, 1.0)])) == 1
    assert len(strata([(100, 1.0), (100, 1.2)])) == 1, "it falls in, and they mix"


def test_ten_degrees_brix_are_four_hundredths() -> None:
    # Sucrose at 20 degC: 1.0381 g/ml at 10 degrees, 0.9982 of water (ICUMSA tables; Bubnik 1995).
    each = (api.sucrose_density(10.0) - api.sucrose_density(0.0)) / 10
    assert each == pytest.approx((1.0381 - 0.9982) / 10, abs=1e-5)
    assert APART_G_ML / each == pytest.approx(2.5, abs=0.05)


def test_ice_in_the_upper_liquid_by_hand() -> None:
    """100 ml of 1.2 g/ml, 120 g of ice, 200 ml of water of 1 g/ml. The ice floats in the water
    alone: Archimedes, it pushes away 120 ml. In the mixture of 1.0667 g/ml it would be 112.5."""
    steps = (b.add(HEAVY, 100), b.add(b.ICE, 120), b.add(LIGHT, 200, makes_room=True))
    apart, mixed = made(*steps).final, made(*steps, layered=False).final
    assert apart.liquid_level_ml == pytest.approx(100 + 200 + 120)
    assert mixed.liquid_level_ml == pytest.approx(100 + 200 + 120 / (320 / 300))
    # 91.67 % of its 238 ml are under the surface.
    bulk_ml = 120 / 0.9167 / 0.55
    assert apart.ice_top_ml == pytest.approx(420 + bulk_ml * (1 - 0.9167))
    assert apart.ice_regime == "floats"


def test_other_programs_may_ask_for_layers() -> None:
    items = [api.Liquid(100, 1.2), api.Ice(120), api.Liquid(200, 1.0)]
    assert api.contents_state(b.cup(), items, layered=True).liquid_level_ml == pytest.approx(420)
    assert api.contents_state(b.cup(), items).liquid_level_ml == pytest.approx(412.5)


def test_ice_in_two_liquids_pushes_away_of_each_what_it_meets() -> None:
    # 150 g of ice of solid share 0.5 stand in liquid that weighs as much: all 60 ml of water and
    # 90 g, 75 ml, of the lower. Together 135 ml, and the ice pushes away as much again.
    ice = api.Ice(150, 0.9167, 0.5)
    contents = Contents().plus(api.Liquid(0, 1.2), 200, layered=True).plus(ice, 150)
    contents = contents.plus(api.Liquid(0, 1.0), 60)
    assert among_ice_ml(contents.strata, 150, 0.5) == pytest.approx(135)
    # ice as heavy as all 300 g of both is only just lifted
    assert among_ice_ml(contents.strata, 300, 0.5) == pytest.approx(260)
    at = levels(contents)
    assert at.liquid == pytest.approx(260 + 135)
    assert at.ice_bottom == pytest.approx(260 - 135)


def test_ice_rests_where_the_liquids_cannot_lift_it() -> None:
    rests = made(b.add(HEAVY, 20), b.add(b.ICE, 200), b.add(LIGHT, 60, makes_room=True)).final
    assert rests.ice_regime == "rests"
    assert rests.liquid_level_ml == pytest.approx(80 / 0.45)
    assert among_ice_ml((Stratum(20, 24), Stratum(60, 60)), 200, 0.55) is None


@given(pours, st.floats(0, 250), st.floats(0.9, 1.4), st.floats(10, 900))
def test_a_line_is_reached_in_layers_too(
    poured: list[tuple[float, float]], ice_g: float, density: float, line: float
) -> None:
    contents = Contents()
    for ml, rho in poured:
        contents = contents.plus(api.Liquid(0, rho), ml, layered=True)
    contents = contents.plus(api.Ice(1.0), ice_g)
    ml, over = poured_to(contents, line, density)
    after = levels(contents.plus(api.Liquid(0, density), ml)).liquid
    if over:
        assert ml == 0.0
        assert over == pytest.approx(levels(contents).liquid - line)
    else:
        assert after <= line + 1e-6
        more = levels(contents.plus(api.Liquid(0, density), ml + 1e-6)).liquid
        assert more >= line - 1e-6


@given(pours, st.floats(0, 250))
def test_one_liquid_stands_as_in_any_drink(poured: list[tuple[float, float]], ice: float) -> None:
    layered = plain = Contents().plus(api.Ice(1.0), ice)
    for ml, _ in poured:
        layered = layered.plus(api.Liquid(0, 1.03), ml, layered=True)
        plain = plain.plus(api.Liquid(0, 1.03), ml)
    assert (len(layered.strata), plain.strata) == (1, ())
    assert levels(layered) == levels(plain)


@pytest.mark.parametrize("action", ["stir", "swirl", "chill"])
def test_what_stirs_makes_one_liquid_of_all(action: str) -> None:
    steps = (b.add(HEAVY, 100), b.add(b.ICE, 50), b.add(LIGHT, 200, makes_room=True))
    serving = made(*steps, b.do(action))
    assert len(serving.steps[-2].state.contents.strata) == 2
    contents = serving.final.contents
    (one,) = contents.strata
    assert (one.ml, one.g) == pytest.approx((contents.liquid_ml, contents.liquid_g))


def test_what_is_shaken_comes_as_one_layer() -> None:
    serving = made(
        b.add(HEAVY, 50),
        b.add(b.MILK, 50, into="shaker"),
        b.add(LIGHT, 100, into="shaker", makes_room=True),
        b.do("pour"),
    )
    assert [one.ml for one in serving.final.contents.strata] == pytest.approx([50, 150])


def test_a_topping_is_held_against_the_lowest_liquid() -> None:
    # Pearls of 1.1 g/ml stay down in a mixture of 1.05, not in a syrup of 1.2 under it.
    steps = (b.add(b.PEARLS, 40), b.add(HEAVY, 60), b.add(LIGHT, 200, makes_room=True))
    assert made(*steps, layered=False).final.warnings == ()
    (warning,) = made(*steps).final.warnings
    assert (warning.code, warning.value) == ("bed_may_float", pytest.approx(1.2))


def test_the_card_says_how_to_pour_and_not_to_stir() -> None:
    checked = check(PROMENADE)
    assert checked.menu is not None
    sunrise = next(s for s in checked.servings if (s.drink.id, s.cup.id) == ("sunrise", "tall"))
    card = build_view(checked.menu, sunrise, Layouts(None).words("en"))
    on_ice = "cold, slowly onto the ice; without ice over a spoon"
    assert [step.note for step in card.steps[:4]] == ["", "", on_ice, on_ice]
    assert card.finish.endswith(" In layers: do not stir.")
    liquids = [layer for layer in card.drawing.layers if layer.kind == "liquid"]
    assert [layer.name for layer in liquids] == ["Lime syrup", "Orange juice", "Green tea"]
    # Tea alone carries the ice: 40 + 130 ml under it, then 120 g / 0.998 g/ml pushed away.
    tea_ml = 430 - 170 - 120 / 0.998
    assert sunrise.body.used is not None
    assert sunrise.body.used.volume_ml == pytest.approx(tea_ml, abs=0.01)
