"""Chilling against the steam and ice formulations (IAPWS-95 and IF97, R10-06) and heat balances."""

import math

import pytest
from figure_samples import numbers
from hypothesis import given
from iapws import IAPWS95, IAPWS97
from iapws._iapws import _Ice

from buildsheets.cup.chill import ICE_HEAT, LATENT_HEAT, MELT_DENSITY, WATER_HEAT, chill
from buildsheets.cup.errors import FigureError, NotEnoughHeatError
from buildsheets.cup.items import ICE_DENSITY, Ice, Liquid

ATMOSPHERE_MPA = 0.101325


def water(celsius):
    """Liquid water at 1 atm."""
    return IAPWS97(T=celsius + 273.15, P=ATMOSPHERE_MPA)


def enthalpy(celsius):
    """J/g of it."""
    return water(celsius).h


def test_constants_are_those_of_the_formulations():
    melting = 273.152519
    molten = IAPWS95(T=melting, P=ATMOSPHERE_MPA)
    ice = _Ice(melting, ATMOSPHERE_MPA)
    assert pytest.approx(molten.h - ice["h"], abs=0.1) == LATENT_HEAT
    assert pytest.approx(ice["rho"] / 1000, abs=1e-4) == ICE_DENSITY
    assert pytest.approx(molten.rho / 1000, abs=1e-4) == MELT_DENSITY
    # constant heats stand for a range: ice from -18 to 0 C, water from 0 to 80 C
    assert _Ice(255.15, ATMOSPHERE_MPA)["cp"] < ICE_HEAT < _Ice(273.15, ATMOSPHERE_MPA)["cp"]
    for celsius in (0, 20, 60, 80):
        assert pytest.approx(water(celsius).cp, rel=0.01) == WATER_HEAT


@pytest.mark.parametrize(("grams", "celsius"), [(300, 25), (200, 20), (150, 40), (60, 90)])
def test_melt_with_ice_left_against_enthalpies(grams, celsius):
    result = chill(liquid_g=grams, liquid_density=1.0, liquid_c=celsius, ice_g=500)
    exact = grams * (enthalpy(celsius) - enthalpy(0)) / 333.4265
    assert result.regime == "ice_left"
    assert result.temperature_c == 0
    assert result.melted_g == pytest.approx(exact, abs=0.5)


@pytest.mark.parametrize(
    ("grams", "celsius", "ice"), [(200, 90, 100), (250, 60, 80), (300, 25, 50)]
)
def test_final_temperature_against_enthalpies(grams, celsius, ice):
    result = chill(liquid_g=grams, liquid_density=1.0, liquid_c=celsius, ice_g=ice)
    wanted = (grams * enthalpy(celsius) + ice * (enthalpy(0) - 333.4265)) / (grams + ice)
    low, high = 0.0, celsius
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if enthalpy(middle) < wanted else (low, middle)
    assert result.regime == "all_melted"
    assert result.melted_g == ice
    assert result.temperature_c == pytest.approx(low, abs=0.2)


def test_worked_heat_balances():
    # computed with 4.186 J/(g K) and 333.43 J/g
    result = chill(liquid_g=200, liquid_density=1.0, liquid_c=90, ice_g=100)
    assert result.temperature_c == pytest.approx(33.5, abs=0.05)
    # 221.5 g of ice take 250 g from 80 to 5 C: hot tea over a scoop of ice never gets there
    result = chill(liquid_g=250, liquid_density=1.0, liquid_c=80, ice_g=221.5)
    assert result.temperature_c == pytest.approx(5, abs=0.05)
    assert chill(liquid_g=250, liquid_density=1, liquid_c=80, ice_g=150).temperature_c > 18
    # UNU Fisheries Training Programme: 1 kg of ice cools about 3 kg of water from 25 to 0 C
    assert 1000 / chill(liquid_g=1000, liquid_density=1, liquid_c=25, ice_g=1000).melted_g == (
        pytest.approx(3.18, abs=0.02)
    )


def test_cold_ice_freezes_part_of_a_cold_liquid():
    result = chill(liquid_g=100, liquid_density=1.0, liquid_c=0, ice_g=200, ice_c=-20)
    assert result.regime == "freezing"
    assert result.frozen_g == pytest.approx(200 * 2.05 * 20 / 333.4)
    assert result.liquid_g == pytest.approx(100 - result.frozen_g)
    assert result.liquid_ml == pytest.approx(100 - result.frozen_g / 0.9998)
    assert result.ice_left_g == pytest.approx(200 + result.frozen_g)
    assert result.net_volume_change_ml > 0
    with pytest.raises(NotEnoughHeatError):
        chill(liquid_g=10, liquid_density=1.0, liquid_c=0, ice_g=200, ice_c=-20)
    # 100 g warmed by 50 K at 2 J/(g K) take 10 kJ, at 100 J/g the freezing of just 100 g
    cold = {"ice_g": 100, "ice_c": -50, "ice_heat": 2, "latent_heat": 100}
    result = chill(liquid_g=100, liquid_density=1.0, liquid_c=0, **cold)
    assert (result.frozen_g, result.liquid_g, result.ice_left_g) == (100, 0, 200)
    with pytest.raises(NotEnoughHeatError):
        chill(liquid_g=99.9, liquid_density=1.0, liquid_c=0, **cold)


def test_what_is_strained_of_a_syrup_that_freezes_is_never_less_than_nothing():
    # 99 of 100 g freeze: as water they would take 99 ml of the 83 that there were
    ice_g = 99 * 333.4 / (2.05 * 20)
    result = chill(liquid_g=100, liquid_density=1.2, liquid_c=0, ice_g=ice_g, ice_c=-20)
    assert result.frozen_g == pytest.approx(99)
    assert result.strained().volume_ml == 0


def test_a_container_and_heat_from_outside_melt_more():
    plain = chill(liquid_g=200, liquid_density=1.0, liquid_c=25, ice_g=300)
    warm = chill(
        liquid_g=200,
        liquid_density=1.0,
        liquid_c=25,
        ice_g=300,
        container_j_per_k=140,
        container_c=22,
        heat_gain_j=333.4,
    )
    assert warm.melted_g - plain.melted_g == pytest.approx(140 * 22 / 333.4 + 1)
    shared = chill(
        liquid_g=100, liquid_density=1.0, liquid_c=50, ice_g=0, container_j_per_k=419, container_c=0
    )
    assert shared.temperature_c == pytest.approx(25)


def test_a_freezing_point_below_zero():
    result = chill(
        liquid_g=200, liquid_density=1.04, liquid_c=25, ice_g=300, ice_c=-0.6, freezing_c=-0.6
    )
    assert result.temperature_c == -0.6
    zero = chill(liquid_g=200, liquid_density=1.04, liquid_c=25, ice_g=300, ice_c=-0.6)
    # a drink of 10 Bx freezes at -0.6 C: 2 to 3 g more melt
    assert 1.5 < result.melted_g - zero.melted_g < 3


def test_strained_and_dumped():
    result = chill(liquid_g=206, liquid_density=1.03, liquid_c=25, ice_g=150)
    assert result.strained() == Liquid(result.liquid_ml, result.liquid_density)
    assert result.dumped(0.6) == (result.strained(), Ice(result.ice_left_g, packing=0.6))
    assert result.liquid_ml == pytest.approx(200 + result.melted_g / 0.9998)
    assert result.liquid_density == pytest.approx((206 + result.melted_g) / result.liquid_ml)
    assert result.dilution == pytest.approx(result.melted_g / 206)
    assert result.net_volume_change_ml < 0


@given(
    numbers(1, 500),
    numbers(0, 95),
    numbers(0, 500),
    numbers(-5, 0),
    numbers(0, 200),
    numbers(0, 60),
    numbers(-5, 0),
)
def test_mass_and_heat_are_conserved(
    liquid, liquid_c, ice, ice_below, container, container_c, freezing
):
    try:
        result = chill(
            liquid_g=liquid,
            liquid_density=1.0,
            liquid_c=liquid_c,
            liquid_heat=3.9,
            ice_g=ice,
            ice_c=freezing + ice_below,
            freezing_c=freezing,
            container_j_per_k=container,
            container_c=container_c,
        )
    except NotEnoughHeatError:
        return
    assert result.liquid_g + result.ice_left_g == pytest.approx(liquid + ice)
    volume_ml = result.liquid_ml + result.ice_left_g / ICE_DENSITY
    assert volume_ml - result.net_volume_change_ml == pytest.approx(liquid + ice / ICE_DENSITY)
    # heat over that at the freezing point
    given_up = liquid * 3.9 * (liquid_c - freezing) + container * (container_c - freezing)
    given_up += ice * ICE_HEAT * ice_below
    warmed = liquid * 3.9 + container + result.melted_g * WATER_HEAT
    kept = warmed * (result.temperature_c - freezing)
    melting = (result.melted_g - result.frozen_g) * LATENT_HEAT
    assert kept + melting == pytest.approx(given_up, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"liquid_g": -1}, "liquid_g"),
        ({"ice_g": -1}, "ice_g"),
        ({"liquid_density": 0}, "liquid_density"),
        ({"ice_c": 1}, "ice_c"),
        ({"liquid_c": -1}, "liquid_c"),
        ({"liquid_c": math.nan}, "liquid_c"),
        ({"container_j_per_k": -1}, "container_j_per_k"),
        ({"heat_gain_j": math.inf}, "heat_gain_j"),
        ({"latent_heat": 0}, "latent_heat"),
        ({"melt_density": 0}, "melt_density"),
        ({"liquid_g": 0, "ice_g": 0, "heat_gain_j": 5}, "liquid_g"),
    ],
)
def test_refusals_name_the_input(change, named):
    with pytest.raises(FigureError) as refused:
        chill(**{"liquid_g": 200, "liquid_density": 1.0, "liquid_c": 25, "ice_g": 100, **change})
    assert refused.value.input_name == named


def test_a_drop_keeps_its_density_where_nothing_melts():
    drop = chill(liquid_g=0.5, liquid_density=1.2, liquid_c=20, ice_g=0)
    assert drop.liquid_density == pytest.approx(1.2)


def test_ice_alone_has_no_dilution():
    result = chill(liquid_g=0, liquid_density=1.0, liquid_c=0, ice_g=100)
    assert result.dilution is None
    assert result.liquid_ml == 0
