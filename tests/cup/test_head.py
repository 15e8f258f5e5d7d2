"""Soda: where its foam stands while it is poured, against sums by hand, and what it takes of the
room for add-ons."""

from __future__ import annotations

import math
from pathlib import Path

import build_samples as b
import figure_samples as f
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets import api
from buildsheets.cup.measuring import head_share
from buildsheets.cup.scan import figure
from buildsheets.cup.serving import Serving
from buildsheets.pipeline import check
from buildsheets.print.layouts import Layouts
from buildsheets.views.build import build_view

PROMENADE = Path(__file__).parents[1] / "wall" / "menus" / "promenade.yaml"
SODA = b.s.component("soda", None, fizzy=True, head_share=0.15)
SODA_MM = b.s.component("soda", None, fizzy=True, head_mm=20.0)


def served(drink: str, cup: str) -> Serving:
    checked = check(PROMENADE)
    assert not checked.stopped
    return next(s for s in checked.servings if (s.drink.id, s.cup.id) == (drink, cup))


def test_a_soda_over_ice_by_hand() -> None:
    """Lime soda, small: 20 ml of syrup of 60 Bx (1.2866 g/ml, CRC Handbook of Chemistry and
    Physics, aqueous sucrose), 220 ml of soda (water, 0.9982 g/ml), 60 g of ice. The ice floats:
    Archimedes. The foam, 15 % of 220 ml, is the shop's own measurement."""
    liquid_g_ml = (20 * 1.2866 + 220 * 0.9982) / 240
    level_ml = 240 + 60 / liquid_g_ml
    ice_top_ml = level_ml + 60 / 0.9167 / 0.55 * (1 - 0.9167 / liquid_g_ml)
    # 33 ml of foam fill the gaps, 45 % of the ice that stands out, and lie over it.
    foam_ml = level_ml + 33 + 0.55 * (ice_top_ml - level_ml)
    soda = served("lime-soda", "small").steps[2]
    assert soda.state.liquid_level_ml == pytest.approx(level_ml, abs=0.05)
    assert soda.state.ice_top_ml == pytest.approx(ice_top_ml, abs=0.05)
    assert soda.head_top_ml == pytest.approx(foam_ml, abs=0.05)
    assert foam_ml == pytest.approx(338.5, abs=0.05)


def test_foam_may_rise_to_the_rim_and_no_further() -> None:
    rim_ml = b.cup().brimful_ml
    just = (rim_ml - 1e-6) / 1.15
    assert figure(b.drink(b.add(SODA, just, makes_room=True)), b.CUP).verdict == "fits"
    over = figure(b.drink(b.add(SODA, just + 10, makes_room=True)), b.CUP)
    assert over.verdict == "too-much"
    assert over.over_ml == pytest.approx(11.5, abs=1e-5)
    assert over.final.top_ml < over.working_ml, "what stays in the cup would fit"


def test_a_drink_that_is_too_much_itself_is_not_told_by_its_foam() -> None:
    """490 ml are 16.9 over the fill limit; a head of 2 % reads 499.8, under the rim of 505."""
    little = b.s.component("soda", None, fizzy=True, head_share=0.02)
    over = figure(b.drink(b.add(little, 490, makes_room=True)), b.CUP)
    fit = over.choices.fit(over.choice)
    assert over.over_ml == pytest.approx(490 - over.working_ml)
    assert fit.foam_ml == 0.0
    assert fit.limit_ml == over.working_ml


def test_a_head_in_mm_stands_over_the_drink() -> None:
    # Frustum of 58, 91, 114 mm: V = pi z / 12 (d0^2 + d0 d + d^2), any geometry handbook.
    def volume_ml(z: float) -> float:
        d = 58 + 33 * z / 114
        return math.pi * z / 12 * (58**2 + 58 * d + d * d) / 1000

    soda = figure(b.drink(b.add(SODA_MM, volume_ml(80.0), makes_room=True)), b.CUP).steps[0]
    assert soda.head_top_ml == pytest.approx(volume_ml(100.0), abs=1e-6)


def test_the_head_of_a_step_has_fallen_before_the_next() -> None:
    two = b.drink(b.add(SODA, 100), b.add(SODA, 100, makes_room=True))
    first, second = figure(two, b.CUP).steps
    assert first.head_top_ml == pytest.approx(115)
    assert second.head_top_ml == pytest.approx(215)


def test_what_is_not_poured_does_not_foam() -> None:
    drink = b.drink(b.add(b.TEA, 200), b.add(SODA, 0.0, makes_room=True))
    assert figure(drink, b.CUP).steps[1].head_top_ml == 0.0


def test_soda_before_more_is_added_is_looked_at_too() -> None:
    drink = b.drink(b.add(SODA, 450), b.add(b.TEA, 10, makes_room=True))
    over = figure(drink, b.CUP)
    assert (over.verdict, over.worst_step) == ("too-much", 1)


def test_add_ons_leave_room_for_the_foam() -> None:
    tall = served("lime-soda", "tall")
    rim_ml = tall.final.cup.brimful_ml
    count = 0
    for made in tall.choices.made:
        assert made.body.head_top_ml <= rim_ml + 1e-6
        count += bool(made.choice.add_ons)
    assert count > 3
    # 46 ml of berries push up the drink and its foam; with as much soda it would run over.
    (with_it,) = [one for one in tall.choices.made if one.choice.add_ons and one.held_back_ml
                  and (one.choice.sweetness, one.choice.ice) == (1.0, "regular")]  # fmt: skip
    assert with_it.held_back_ml == pytest.approx(40)


def test_the_card_says_to_pour_slowly_where_the_foam_passes_the_fill_limit() -> None:
    small = served("lime-soda", "small")
    menu = check(PROMENADE).menu
    assert menu is not None
    words = Layouts(None).words("en")
    note = build_view(menu, small, words).steps[2].note
    assert note == "cold, slowly: its foam rises over the fill limit"
    assert small.steps[2].head_top_ml > small.working_ml


@given(f.cups, st.floats(0.0, 1.2), st.floats(0.0, 60.0))
def test_a_reading_above_another_is_that_of_the_cup(
    cup: api.Cup, share: float, rise_mm: float
) -> None:
    reading = share * cup.brimful_ml
    above = cup.reading_above(reading, rise_mm)
    assert above >= reading - 1e-9
    if above <= cup.brimful_ml and reading > 0.0:
        assert cup.height_mm(above) == pytest.approx(cup.height_mm(reading) + rise_mm, abs=1e-3)


def test_above_the_rim_the_sides_go_on_upright() -> None:
    cup = f.cup_of_class(500)
    rim_area = math.pi / 4 * 91**2 / 1000  # ml in a mm
    assert cup.reading_above(cup.brimful_ml, 2.0) == pytest.approx(cup.brimful_ml + 2 * rim_area)
    assert cup.reading_above(cup.brimful_ml + 5, 2.0) == pytest.approx(
        cup.brimful_ml + 5 + 2 * rim_area
    )


def test_a_head_is_measured_as_the_highest_of_some_pours() -> None:
    # 200 ml over ice that stand at 290 ml of the jug; 30 ml of foam at most
    assert head_share(200, 290, [314, 320, 311]) == pytest.approx(0.15)
    with pytest.raises(api.FigureError):
        head_share(200, 290, [280])
