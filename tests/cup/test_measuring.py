"""Kitchen-scale measurements against the figures they come from."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.cup.cup import calibration, frustum
from buildsheets.cup.errors import FigureError
from buildsheets.cup.measuring import base_mm, overrun_pct, packing, pour_points, scoop


def test_water_weighed_in_a_cup_gives_the_cup_back() -> None:
    cup = frustum(58.0, 91.0, 114.0)
    heights = [20.0, 40.0, 60.0, 80.0, 100.0, 114.0]
    # Water at 20 degC: 998.207 kg/m3, IAPWS-95.
    rows = [(h, 0.998207 * cup.volume_ml(h)) for h in heights]
    poured = calibration(pour_points(rows, 0.998207))
    assert poured.brimful_ml == pytest.approx(cup.brimful_ml, rel=1e-9)
    # Six rows on a scale find every line of this cup to half a millimetre.
    for ml in range(40, 500, 20):
        assert poured.height_mm(ml) == pytest.approx(cup.height_mm(ml), abs=0.5)


@pytest.mark.parametrize(
    "rows", [[], [(20.0, 45.0), (20.0, 50.0)], [(20.0, 45.0), (30.0, 45.0)], [(0.0, 1.0)]]
)
def test_rows_that_do_not_rise_are_refused(rows: list[tuple[float, float]]) -> None:
    with pytest.raises(FigureError):
        pour_points(rows)


def test_scoop_mean_and_sample_spread() -> None:
    # Sample standard deviation of 2, 4, 4, 4, 5, 5, 7, 9 is 2.138 (divisor n - 1): a textbook set.
    found = scoop([2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0])
    assert found.mean_g == 5.0
    assert found.spread_g == pytest.approx(2.13809, abs=1e-5)
    with pytest.raises(FigureError):
        scoop([60.0, 61.0])


def test_packing_of_a_litre_of_cubes() -> None:
    # Cubes pack to 0.54 loose and 0.67 dense (Baker and Kudrolli, Phys. Rev. E 82, 061304, 2010),
    # which is 495 to 614 g in a litre at 916.7 kg/m3 (IAPWS R10-06).
    assert packing(495.0, 1000.0) == pytest.approx(0.54, abs=0.001)
    assert packing(614.2, 1000.0) == pytest.approx(0.67, abs=0.001)
    for ice_g in (950.0, 900.0):  # a block of 0.9 g/ml that fills the jug is no heap either
        with pytest.raises(FigureError):
            packing(ice_g, 1000.0, 0.9)


def test_whipping_cream_doubles() -> None:
    # USDA SR26 01053: a cup of cream weighs 238 g fluid and 120 g whipped, so 98 % overrun.
    assert overrun_pct(238.0, 120.0) == pytest.approx(98.3, abs=0.05)
    with pytest.raises(FigureError):
        overrun_pct(100.0, 120.0)


@given(st.floats(1.0, 500.0), st.floats(0.0, 300.0))
def test_overrun_undoes_whipping(liquid_g: float, overrun: float) -> None:
    foam_g = liquid_g / (1.0 + overrun / 100.0)
    assert overrun_pct(liquid_g, foam_g) == pytest.approx(overrun, abs=1e-9)


def test_a_cup_known_by_rim_height_and_brimful_gives_its_floor() -> None:
    """Volume of a frustum of a cone, pi h / 12 (D^2 + D d + d^2): Bronshtein, Handbook of
    Mathematics, section 3.3. With D 91, d 58 and h 114 mm it holds 505.0 ml."""
    held_ml = math.pi * 114 / 12 * (91**2 + 91 * 58 + 58**2) / 1000
    assert held_ml == pytest.approx(505.0, abs=0.1)
    assert base_mm(91, 114, held_ml) == pytest.approx(58.0, abs=1e-9)
    for brimful_ml in (100.0, 1475.0):
        with pytest.raises(FigureError, match="is too"):
            base_mm(91, 114, brimful_ml)


def test_a_straight_cup_may_be_said_to_hold_a_little_more_than_it_does() -> None:
    """Pi x 40^2 x 100 mm3 are 502.7 ml. 510 ml would make the floor 81.2 mm wide, more than a ruler
    is off."""
    for brimful_ml in (math.pi * 160, 503.0, 508.0):
        assert base_mm(80, 100, brimful_ml) == pytest.approx(80.0, abs=1e-9)
    with pytest.raises(FigureError, match="too much"):
        base_mm(80, 100, 510.0)
