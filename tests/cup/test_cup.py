"""Cups against published worked examples, scipy and the laws of volume."""

import math
from itertools import pairwise

import numpy as np
import pytest
from figure_samples import CLASSES, calibrations, cup_of_class, cups, frusta, numbers
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.interpolate import PchipInterpolator

from buildsheets.cup.cup import Cup, calibration, frustum, profile
from buildsheets.cup.errors import AboveRimError, FigureError

CM = 10.0  # worked examples below are in cm; 1 cm3 = 1 ml


@pytest.mark.parametrize(
    ("base_r", "rim_r", "height", "volume", "source"),
    [
        (3, 5, 10, 513.13, "calculatorlib.com, truncated cone volume, worked example"),
        (1, 3, 4, 54.454, "ajdesigner.com, cone frustum problem"),
        (0, 3, 5, 47.124, "calcunation.com, cone volume, worked example"),
        (4, 4, 7, math.pi * 16 * 7, "limit R = r: pi R^2 h, calculatorlib.com"),
    ],
)
def test_frustum_worked_examples(base_r, rim_r, height, volume, source):
    cup = frustum(2 * base_r * CM, 2 * rim_r * CM, height * CM)
    assert cup.brimful_ml == pytest.approx(volume, abs=6e-3), source
    # symmetric in R and r: the inverted cup holds as much
    if base_r > 0:
        turned = frustum(2 * rim_r * CM, 2 * base_r * CM, height * CM)
        assert turned.brimful_ml == pytest.approx(cup.brimful_ml, rel=1e-14)


def test_drinking_glass_of_a_textbook_that_takes_pi_as_22_over_7():
    # cracku.in, question 157 (a police entrance test of 2018): 14 cm, 4 and 2 cm wide, 102.667 ml
    assert frustum(20, 40, 140).brimful_ml * (22 / 7) / math.pi == pytest.approx(102.667, abs=1e-3)


def test_half_height_of_a_tapered_cup_is_far_less_than_half_the_volume():
    cup = frustum(60, 100, 100)
    # the 513.13 ml cup again, filled to half its height: 193.73 ml, 37.75 %
    assert cup.volume_ml(50) == pytest.approx(193.73, abs=5e-3)
    assert cup.height_mm(193.7315) == pytest.approx(50, abs=1e-3)


@pytest.mark.parametrize(
    ("size", "brimful"), [(250, 263.6), (350, 361.8), (500, 505.1), (700, 694.9)]
)
def test_brimful_of_the_example_cups(size, brimful):
    assert cup_of_class(size).brimful_ml == pytest.approx(brimful, abs=0.05)


def test_working_capacity_and_headspace_in_both_units():
    cup = cup_of_class(500)
    assert cup.working_ml() == cup.brimful_ml
    assert cup.working_ml(headspace_mm=5) == pytest.approx(473.1, abs=0.05)
    assert cup.working_ml(headspace_ml=32) == pytest.approx(cup.brimful_ml - 32)
    assert cup.working_ml(headspace_mm=114) == cup.working_ml(headspace_ml=cup.brimful_ml) == 0
    assert cup.checked_working_ml(None) == cup.brimful_ml
    assert cup.checked_working_ml(300) == 300
    # a lid gap of 10 of 114 mm is not 8.8 % (44 ml) of this cup but 63 ml
    assert cup.brimful_ml - cup.working_ml(headspace_mm=10) == pytest.approx(63, abs=0.1)


@given(cups, numbers(0, 1))
def test_round_trip_from_volume(cup, share):
    volume = cup.brimful_ml * share
    assert cup.volume_ml(cup.height_mm(volume)) == pytest.approx(volume, rel=1e-10, abs=1e-9)


@given(frusta, numbers(0, 1))
def test_round_trip_from_height_to_a_nanometre(cup, share):
    height = cup.rim_height_mm * share
    # near a pointed end the cross-section, and with it what a volume can say of a height, vanishes
    assume(cup.area_mm2(height) > 1)
    assert cup.height_mm(cup.volume_ml(height)) == pytest.approx(height, abs=1e-6)


@given(calibrations(), numbers(0, 1))
def test_round_trip_of_a_calibration(cup, share):
    height = cup.rim_height_mm * share
    assume(cup.area_mm2(height) > 1)
    assert cup.height_mm(cup.volume_ml(height)) == pytest.approx(height, abs=1e-6)


@given(cups, numbers(0, 1), numbers(0, 1))
def test_volume_and_height_rise_together(cup, one, other):
    low, high = sorted((one * cup.rim_height_mm, other * cup.rim_height_mm))
    assert cup.volume_ml(low) <= cup.volume_ml(high) + 1e-12
    low, high = sorted((one * cup.brimful_ml, other * cup.brimful_ml))
    assert cup.height_mm(low) <= cup.height_mm(high) + 1e-9


@given(frusta, numbers(0.01, 0.99), numbers(0, 1))
def test_splitting_a_frustum_in_two_changes_nothing(cup, cut, share):
    (_, base), (height, rim) = cup.points
    middle = base + (rim - base) * cut
    split = profile([(0, base), (height * cut, middle), (height, rim)])
    z = height * share
    assert split.volume_ml(z) == pytest.approx(cup.volume_ml(z), rel=1e-12, abs=1e-9)
    assert split.brimful_ml == pytest.approx(cup.brimful_ml, rel=1e-12)


@given(cups, numbers(0, 1))
def test_volume_is_the_integral_of_the_area(cup, share):
    top = cup.rim_height_mm * share
    heights = sorted({height for height, _ in cup.points if height < top} | {0.0, top})
    total = sum(
        quad(cup.area_mm2, low, np.nextafter(high, low), epsabs=1e-7)[0]
        for low, high in pairwise(heights)
    )
    assert cup.volume_ml(top) == pytest.approx(total / 1000, rel=1e-8, abs=1e-8)


def test_a_step_in_diameter_has_no_volume():
    cup = profile([(0, 60), (50, 60), (50, 80), (100, 80)])
    assert cup.brimful_ml == pytest.approx(math.pi / 4 * (60**2 + 80**2) * 50 / 1000)
    assert cup.diameter_mm(49.999) == pytest.approx(60)
    assert cup.diameter_mm(50) == pytest.approx(80)
    assert cup.height_mm(cup.volume_ml(50)) == pytest.approx(50)


def test_pointed_and_inverted_cups_invert_at_both_ends():
    pointed = frustum(0, 90, 120)
    assert pointed.height_mm(0) == 0
    assert pointed.height_mm(1e-9) == pytest.approx(120 * (1e-9 / pointed.brimful_ml) ** (1 / 3))
    assert 0 <= pointed.height_mm(5e-324) < 1e-6  # the least that a float can tell
    inverted = frustum(90, 1e-3, 120)
    assert inverted.height_mm(inverted.brimful_ml) == 120
    assert inverted.height_mm(inverted.volume_ml(60)) == pytest.approx(60, abs=1e-9)


SCIPY_ROWS = [
    [(100, 400)],
    [(40, 100), (100, 400)],
    [(0, 0), (10, 1), (20, 2), (21, 300), (100, 301)],
    [(5, 200), (10, 210), (90, 220), (100, 500)],  # falling end slope at the floor, held at 0
    [(20, 55), (40, 121), (60, 200), (80, 292), (100, 399), (110, 456)],
]


@pytest.mark.parametrize("rows", SCIPY_ROWS)
def test_calibration_is_exactly_scipys_pchip(rows):
    _same_as_scipy(calibration(rows))


@given(calibrations())
def test_any_calibration_is_scipys_pchip(cup):
    _same_as_scipy(cup)


def _same_as_scipy(cup: Cup) -> None:
    heights, volumes = zip(*cup.points, strict=True)
    reference = PchipInterpolator(heights, volumes)
    for z in np.linspace(0, cup.rim_height_mm, 61):
        assert cup.volume_ml(float(z)) == pytest.approx(float(reference(z)), rel=1e-12, abs=1e-11)
        assert cup.area_mm2(float(z)) == pytest.approx(
            1000 * float(reference.derivative()(z)), rel=1e-9, abs=1e-6
        )


def test_flat_ends_of_a_calibration_do_not_break_the_inverse():
    cup = calibration([(5, 200), (10, 210), (90, 220), (100, 500)])
    for volume in (0, 1e-12, 1e-3, 199.999999, 200, 210, 215, 220, 220.000001, 499.999, 500):
        assert cup.volume_ml(cup.height_mm(volume)) == pytest.approx(volume, abs=1e-9)


def test_calibration_of_a_known_cup_is_close_to_its_geometry():
    cup = cup_of_class(500)
    poured = calibration([(z, cup.volume_ml(z)) for z in (20, 45, 70, 95, 114)])
    for z in range(115):
        assert poured.volume_ml(z) == pytest.approx(cup.volume_ml(z), abs=2.0)


def test_shape_for_drawings():
    cup = cup_of_class(350)
    assert cup.profile_points() == ((0, 55), (94, 84))
    assert cup.diameter_mm(47) == pytest.approx(69.5)
    poured = calibration([(50, 100), (100, 300)])
    assert poured.diameter_mm(50) is None
    stack = profile(poured.profile_points())
    assert stack.brimful_ml == pytest.approx(300)
    assert stack.volume_ml(50) == pytest.approx(100)


def test_a_reading_so_many_mm_over_another():
    # upright: 80 mm wide, pi / 4 x 8 x 8 = 50.265 ml for each 10 mm, over its rim too
    ml_per_mm = math.pi * 64 / 40
    upright = frustum(80, 80, 100)
    for volume, rise in ((0, 40), (100, 30), (400, 60), (600, 10)):
        assert upright.reading_above(volume, rise) == pytest.approx(volume + rise * ml_per_mm)
    tapered = cup_of_class(500)  # 91 mm at a rim 114 mm high
    assert tapered.reading_above(tapered.volume_ml(60), 30) == pytest.approx(tapered.volume_ml(90))
    over_ml = 6 * math.pi * 91 * 91 / 4000
    assert tapered.reading_above(tapered.volume_ml(110), 10) == pytest.approx(
        tapered.brimful_ml + over_ml
    )
    # a pour that ends flat tells of no area at the rim: 300 ml in 100 mm are 3 ml a mm
    flat = calibration([(50, 290), (100, 300)])
    assert flat.area_mm2(100) < 3000
    assert flat.reading_above(300, 10) == pytest.approx(330)


@given(st.sampled_from(sorted(CLASSES)), numbers(0, 1))
def test_levels_scale_with_the_cup(size, share):
    base, rim, height = CLASSES[size]
    small, big = frustum(base, rim, height), frustum(2 * base, 2 * rim, 2 * height)
    z = share * height
    assert big.volume_ml(2 * z) == pytest.approx(8 * small.volume_ml(z), rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda: frustum(50, 80, 0), "height_mm"),
        (lambda: frustum(50, 80, -1), "height_mm"),
        (lambda: frustum(50, 0, 100), "rim_mm"),
        (lambda: frustum(-1, 80, 100), "base_mm"),
        (lambda: frustum(math.nan, 80, 100), "base_mm"),
        (lambda: frustum(50, math.inf, 100), "rim_mm"),
        (lambda: frustum(50, True, 100), "rim_mm"),
        (lambda: profile([(0, 50)]), "points"),
        (lambda: profile([(1, 50), (10, 50)]), "points[0].height"),
        (lambda: profile([(0, 50), (20, 50), (10, 50)]), "points[2].height"),
        (lambda: profile([(0, 50), (20, -5), (30, 50)]), "points[1].diameter"),
        (lambda: profile([(0, 50), (20, 0)]), "points[1].diameter"),
        (lambda: profile([(0, 50), (0, 60)]), "points[1].height"),
        (lambda: profile([(0, 0), (50, 0), (50, 60)]), "points"),
        (lambda: profile([(0, 50, 1), (20, 50, 1)]), "points[0]"),
        (lambda: calibration([]), "points"),
        (lambda: calibration([(0, 0)]), "points"),
        (lambda: calibration([(10, 50), (10, 60)]), "points[2].height"),
        (lambda: calibration([(10, 50), (20, 50)]), "points[2].volume"),
        (lambda: calibration([(0, 5), (20, 50)]), "points[1].height"),
        (lambda: calibration([(-5, 5), (20, 50)]), "points[1].height"),
        (lambda: cup_of_class(500).working_ml(headspace_mm=-1), "headspace_mm"),
        (lambda: cup_of_class(500).working_ml(headspace_mm=114.1), "headspace_mm"),
        (lambda: cup_of_class(500).working_ml(headspace_ml=506), "headspace_ml"),
        (lambda: cup_of_class(500).working_ml(headspace_ml=5, headspace_mm=5), "headspace_ml"),
        (lambda: cup_of_class(500).volume_ml(-1), "height_mm"),
        (lambda: cup_of_class(500).volume_ml(math.nan), "height_mm"),
        (lambda: cup_of_class(500).height_mm(-1), "volume_ml"),
        (lambda: cup_of_class(500).height_mm(math.nan), "volume_ml"),
    ],
)
def test_refusals_name_the_input(make, named):
    with pytest.raises(FigureError) as refused:
        make()
    assert refused.value.input_name == named
    assert refused.value.reason
    assert named in str(refused.value)


def test_above_the_rim_there_are_no_millimetres():
    cup = cup_of_class(500)
    with pytest.raises(AboveRimError):
        cup.height_mm(cup.brimful_ml + 0.01)
    with pytest.raises(AboveRimError):
        cup.volume_ml(114.01)
    assert cup.height_mm(cup.brimful_ml + 1e-7) == 114  # equality within the slack of a fit
