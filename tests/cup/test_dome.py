"""Domes: what they hold, against geometry handbooks, and how much foam may stand in them."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import build_samples as b
import pytest
from hypothesis import given
from hypothesis import strategies as st
from menu_samples import check_once

from buildsheets import api
from buildsheets.cup.dome import Dome
from buildsheets.cup.scan import figure
from buildsheets.cup.serving import Serving
from buildsheets.cup.steps import dome_of
from buildsheets.menu.model import Drink
from buildsheets.print.layouts import Layouts
from buildsheets.views.build import build_view

PROMENADE = Path(__file__).parents[1] / "wall" / "menus" / "promenade.yaml"
domes = st.builds(
    lambda rim, height, hole: Dome(rim, height, hole * rim),
    st.floats(40, 120), st.floats(2, 120), st.sampled_from([0.0, 0.2, 0.9]),
)  # fmt: skip


def segment_ml(rim_mm: float, height_mm: float, hole_mm: float = 0.0) -> float:
    """Spherical segment, V = pi h (3 a^2 + 3 c^2 + h^2) / 6: Bronshtein et al., Handbook of
    Mathematics, solids (from memory; the same formula found in several formula collections)."""
    a, c, h = rim_mm / 2, hole_mm / 2, height_mm
    return math.pi * h * (3 * a * a + 3 * c * c + h * h) / 6000


def test_a_half_sphere_holds_two_thirds_pi_r_cubed() -> None:
    assert Dome(90, 45).volume_ml == pytest.approx(2 / 3 * math.pi * 4.5**3)


@given(domes)
def test_it_holds_what_the_handbook_says(dome: Dome) -> None:
    assert dome.volume_ml == pytest.approx(segment_ml(dome.rim_mm, dome.height_mm, dome.hole_mm))
    first, last = dome.outline_mm()[0], dome.outline_mm()[-1]
    assert first == pytest.approx((0.0, dome.rim_mm))
    assert last == pytest.approx((dome.height_mm, dome.hole_mm), abs=1e-3)


@given(domes, st.floats(0.0, 1.0))
def test_how_high_foam_stands_is_the_inverse(dome: Dome, share: float) -> None:
    height_mm = dome.stands_mm(share * dome.volume_ml)
    assert dome.below_ml(height_mm) == pytest.approx(share * dome.volume_ml, abs=1e-5)
    assert dome.stands_mm(0.0) == 0.0
    assert dome.stands_mm(1.1 * dome.volume_ml) == pytest.approx(dome.height_mm, rel=2e-9)


@given(st.floats(40, 120), st.floats(1, 900), st.sampled_from([0.0, 20.0]))
def test_a_measured_dome_holds_what_was_measured(rim: float, ml: float, hole: float) -> None:
    shape = b.s.CupShape(frustum=(58.0, rim, 114.0))
    size = b.s.cup(shape=shape, lid="dome", dome_ml=ml, dome_hole_mm=hole)
    dome = dome_of(size)
    assert dome is not None
    assert dome.volume_ml == pytest.approx(ml, rel=1e-6)
    assert segment_ml(rim, size.dome_high_mm, hole) == pytest.approx(ml, rel=1e-6)


@pytest.mark.parametrize(("rim", "height", "hole"), [(0, 30, 0), (90, 0, 0), (90, 30, 90)])
def test_what_no_dome_can_be_is_refused(rim: float, height: float, hole: float) -> None:
    with pytest.raises(api.FigureError):
        Dome(rim, height, hole)


def domed(drink: Drink, **dome: float) -> Serving:
    cup = replace(b.CUP, lid="dome", **dome)  # type: ignore[arg-type]
    return figure(replace(drink, cups=(cup,)), cup)


def cream(liquid_ml: float, cream_ml: float) -> Drink:
    # cream of 1 g/ml whipped by 80 %
    return b.drink(b.add(b.TEA, liquid_ml, makes_room=True), b.add(b.CREAM, cream_ml / 1.8))


def test_foam_may_fill_the_dome_and_no_more() -> None:
    room = b.cup().brimful_ml - 400 + segment_ml(91, 30)
    assert domed(cream(400, room - 1e-6), dome_mm=30.0).verdict == "fits"
    over = domed(cream(400, room + 7), dome_mm=30.0)
    assert (over.verdict, over.over_ml) == ("too-much", pytest.approx(7))
    assert domed(cream(400, room + 7), dome_mm=30.0, dome_hole_mm=25.0).verdict == "fits"


def test_without_its_measures_a_dome_is_a_lid_like_others() -> None:
    full = b.WORKING - 400
    assert domed(cream(400, full - 1e-6)).verdict == "fits"
    assert domed(cream(400, full + 1)).over_ml == pytest.approx(1)


def test_the_drink_itself_stays_under_the_fill_limit() -> None:
    assert domed(cream(b.WORKING - 1e-6, 0), dome_mm=30.0).verdict == "fits"
    assert domed(cream(b.WORKING + 2, 0), dome_mm=30.0).over_ml == pytest.approx(2)


def test_a_dome_measured_in_ml() -> None:
    state = domed(cream(400, 150), dome_ml=111.7).final
    assert state.dome_ml == pytest.approx(b.cup().brimful_ml - b.WORKING + 111.7, abs=1e-3)
    # 400 + 150 - 505.1 = 44.9 ml over the rim, in a spherical cap of 91 mm, about 30 mm high
    over_ml = 550 - b.cup().brimful_ml
    a, z = 45.5, state.in_dome_mm
    middle = (30.0 * 30.0 - a * a) / 60.0
    assert math.pi * z * (a * a + middle * z - z * z / 3) / 1000 == pytest.approx(over_ml, rel=1e-3)
    assert state.fits
    assert state.simple_rule_fits


def served(drink: str, cup: str) -> Serving:
    checked = check_once(PROMENADE)
    assert not checked.stopped
    return next(s for s in checked.servings if (s.drink.id, s.cup.id) == (drink, cup))


def test_chocolate_under_cream_by_hand() -> None:
    """Cup 58 / 91 / 114 mm, 505.1 ml (frustum, any geometry handbook); 425 ml line, 120 g of ice
    afloat in chocolate milk of 1.05 g/ml (Archimedes), 120 ml of whipped cream."""
    state = served("chocolate-cloud", "tall").final
    brimful_ml = math.pi * 114 / 12 * (58**2 + 58 * 91 + 91**2) / 1000
    # the cream fills the gaps of the ice, so that all adds up: liquid, ice as solid, cream
    top_ml = 425 - 120 / 1.05 + 120 / 0.9167 + 120
    assert state.top_ml == pytest.approx(top_ml, abs=0.01)
    assert state.overflow_ml == pytest.approx(top_ml - brimful_ml, abs=0.01)
    a, c, h = 45.5, 10.0, 34.0
    middle = (h * h - a * a + c * c) / (2 * h)
    z = state.in_dome_mm
    stands_ml = math.pi * z * (a * a + middle * z - z * z / 3) / 1000
    assert stands_ml == pytest.approx(top_ml - brimful_ml, abs=0.01)
    assert z == pytest.approx(9.33, abs=0.01)


def test_an_add_on_of_cream_stands_in_the_dome_and_takes_nothing_from_the_base() -> None:
    tall = served("chocolate", "tall")
    with_cream = [one for one in tall.choices.made if "add-cream" in one.choice.add_ons]
    assert len(with_cream) == 6
    assert [one.held_back_ml for one in with_cream] == [0.0] * 6
    assert any(one.final.in_dome_mm for one in with_cream)


def test_cards_say_so_and_draw_it() -> None:
    menu, words = check_once(PROMENADE).menu, Layouts(None).words("en")
    assert menu is not None
    card = build_view(menu, served("chocolate-cloud", "tall"), words)
    assert card.finish == "Dome lid: foam stands about 9 mm up into it."
    assert card.steps[2].note == "may stand over the rim, in the dome"
    assert card.drawing.alt.endswith("foam over the rim at the top")
    (cap,) = [layer for layer in card.drawing.layers if layer.kind == "cap"]
    assert cap.to_mm == pytest.approx(114 + 9.33, abs=0.1)
    assert card.drawing.dome_mm[0] == (114.0, 91.0)
    assert card.drawing.dome_mm[-1] == (148.0, 20.0)
    assert not any(line.kind == "cap" for line in card.gauge), "no mark stands over the rim"
    small = build_view(menu, served("chocolate", "small"), words)
    assert small.drawing.dome_mm == ()
    assert "may stand" not in " ".join(one.note for one in small.add_ons)
    tall = build_view(menu, served("chocolate", "tall"), words)
    assert [one.note for one in tall.add_ons if one.name == "Whipping cream"] == [
        "may stand over the rim, in the dome"
    ]
