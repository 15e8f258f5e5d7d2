"""Fruit and leaves: what swims and what stands out of the drink, and slices on the wall, against
sums by hand. Densities of the fruit are the sample's own, as weighed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import build_samples as b
import figure_samples as f
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets import api
from buildsheets.cup.contents import Contents, add_up, judged_ml, levels, poured_to
from buildsheets.cup.items import Slice, Swimmer
from buildsheets.cup.scan import figure
from buildsheets.cup.serving import Serving
from buildsheets.menu.model import AddStep, DoStep
from buildsheets.pipeline import check
from buildsheets.print.layouts import Layouts
from buildsheets.views.build import build_view

PROMENADE = Path(__file__).parents[1] / "wall" / "menus" / "promenade.yaml"
FRUIT = b.s.component(
    "fruit", None, role="topping", behaves="swimming", density_g_ml=0.9, bulk_density_g_ml=0.5
)
SLICES = b.s.component("slices", None, role="topping", behaves="on-wall", density_g_ml=0.95)


def made(*steps: AddStep | DoStep) -> Serving:
    return figure(b.drink(*steps), b.CUP)


def test_pieces_push_up_their_own_weight_of_drink() -> None:
    """Archimedes: 45 g in water push up 45 ml; 90 % of each piece is under the surface."""
    state = made(b.add(b.TEA, 300, makes_room=True), b.add(FRUIT, 45)).final
    assert state.liquid_level_ml == pytest.approx(345)
    assert state.ice_regime == "floats"
    # a heap of 90 ml, a tenth of it out of the drink
    assert state.top_ml == pytest.approx(345 + 9)
    assert state.sum_ml == pytest.approx(300 + 45 / 0.9)


def test_a_flat_lid_presses_them_under() -> None:
    contents = add_up([api.Liquid(300, 1.0), Swimmer(45, 0.9, 0.5)])
    assert judged_ml("fits", contents) == pytest.approx(354)
    assert judged_ml("lid_fits", contents) == pytest.approx(350), "all 50 ml of it"


def test_pieces_and_ice_float_as_one_heap() -> None:
    both = add_up([api.Liquid(300, 1.0), api.Ice(100), Swimmer(45, 0.9, 0.5)])
    at = levels(both)
    assert at.liquid == pytest.approx(300 + 100 + 45)
    bulk_ml, solid_ml = 100 / 0.9167 / 0.55 + 90, 100 / 0.9167 + 50
    assert at.ice_top == pytest.approx(445 + bulk_ml * (1 - 145 / solid_ml))


@given(st.floats(1, 200), f.contents)
def test_pieces_like_ice_stand_as_ice_does(mass_g: float, items: list[api.Item]) -> None:
    ice = levels(add_up([*items, api.Ice(mass_g, 0.9, 0.5)]))
    fruit = levels(add_up([*items, Swimmer(mass_g, 0.9, 0.45)]))
    assert fruit[:4] == pytest.approx(ice[:4])
    assert fruit.top == pytest.approx(ice.top)
    assert fruit.ice_regime == ice.ice_regime


def test_they_do_not_melt() -> None:
    state = made(
        b.add(b.TEA, 300, makes_room=True), b.add(b.ICE, 50), b.add(FRUIT, 45), b.do("chill")
    ).final
    assert state.contents.swims_g == pytest.approx(45)
    assert state.contents.ice_g < 50
    assert isinstance(state.items[0], Swimmer)


def test_a_slice_on_the_wall_takes_all_its_room() -> None:
    state = made(b.add(SLICES, 19), b.add(b.TEA, 300, makes_room=True)).final
    assert state.liquid_level_ml == pytest.approx(320)
    assert state.sum_ml == pytest.approx(320)
    assert made(b.add(SLICES, 19), b.to_line(b.TEA, 320)).body.used.volume_ml == pytest.approx(300)  # type: ignore[union-attr]


@given(
    st.floats(0, 100), st.floats(0, 40), st.floats(0, 200), st.floats(0, 250), st.floats(300, 900)
)
def test_a_line_is_reached_among_fruit(
    fruit_g: float, slices_g: float, ice_g: float, syrup_ml: float, line: float
) -> None:
    items = [Slice(slices_g, 0.95), api.Liquid(syrup_ml, 1.2), api.Ice(ice_g)]
    contents: Contents = add_up([*items, Swimmer(fruit_g, 0.9, 0.5)])
    ml, over = poured_to(contents, line, 1.0)
    if not over:
        after = levels(contents.plus(api.Liquid(0, 1.0), ml)).liquid
        assert after == pytest.approx(line, abs=1e-6)


def test_pieces_heavier_than_the_drink_may_sink() -> None:
    heavy = replace(FRUIT, density_g_ml=1.02)
    (warning,) = made(b.add(b.TEA, 300, makes_room=True), b.add(heavy, 40)).final.warnings
    assert (warning.code, warning.limit) == ("swimmer_may_sink", 1.02)


def test_add_ons_go_where_their_kind_belongs() -> None:
    drink = b.drink(
        b.add(b.PEARLS, 20), b.add(b.ICE, 40), b.add(b.TEA, 200, makes_room=True),
        b.do("stir"), b.add(b.CREAM, 20), b.do("lid"),
        add_ons=(b.add_on(FRUIT, 20, "fruit"), b.add_on(SLICES, 12, "slices")),
    )  # fmt: skip
    choice = replace(figure(drink, b.CUP).choice, add_ons=("fruit", "slices"))
    steps = figure(drink, b.CUP, choice).steps
    order = [s.add_on.id if s.add_on else "" for s in steps]
    assert order == ["slices", "", "", "", "", "fruit", "", ""], (
        "on the wall first; under the cream"
    )


def test_a_garden_cooler_by_hand() -> None:
    """Tall: two slices of 12 g (0.95 g/ml) on the wall, 40 ml of syrup of 60 Bx (1.2866 g/ml, CRC
    Handbook of Chemistry and Physics), 60 g of ice, tea of 0.998 g/ml to the 390 ml line, then 50 g
    of strawberries of 0.90 g/ml. What floats pushes up its own weight of drink (Archimedes)."""
    checked = check(PROMENADE)
    assert checked.menu is not None
    cooler = next(
        s for s in checked.servings if s.drink.id == "garden-cooler" and s.cup.id == "tall"
    )
    assert cooler.body.used is not None
    tea_ml = cooler.body.used.volume_ml
    liquid_ml, liquid_g = 40 + tea_ml, 40 * 1.2866 + tea_ml * 0.998
    assert 24 / 0.95 + liquid_ml + 60 * liquid_ml / liquid_g == pytest.approx(390, abs=0.01)
    level_ml = 24 / 0.95 + liquid_ml + 110 * liquid_ml / liquid_g
    assert cooler.final.liquid_level_ml == pytest.approx(level_ml, abs=0.01)
    heap_ml, solid_ml = 60 / 0.9167 / 0.55 + 100, 60 / 0.9167 + 50 / 0.9
    out_ml = heap_ml * (1 - 110 * liquid_ml / liquid_g / solid_ml)
    assert cooler.final.top_ml == pytest.approx(level_ml + out_ml, abs=0.01)
    card = build_view(checked.menu, cooler, Layouts(None).words("en"))
    kinds = [layer.kind for layer in card.drawing.layers]
    assert kinds == ["liquid", "ice", "pieces", "wall"]
    ice, pieces = card.drawing.layers[1:3]
    assert ice.to_mm == pieces.from_mm
    assert pieces.to_mm == pytest.approx(cooler.final.top_mm, abs=0.06)
    assert card.steps[1].line == "", "the slices are not under the drink yet"
