"""Heat, minutes and ice against worked examples of textbooks and published figures."""

from __future__ import annotations

from dataclasses import replace

import prep_samples as s
import pytest

from buildsheets.cup.errors import FigureError
from buildsheets.prep.heat import heat_j, ice_g, minutes, solids_share, specific_heat


def test_heating_water_in_an_aluminium_pan() -> None:
    # OpenStax College Physics, ch. 14, "heating water in an aluminum pan": 0.250 kg of water
    # (4186 J/kg K) and a pan of 0.500 kg (900) from 20.0 to 80.0 °C take 62.8 and 27.0 kJ.
    assert heat_j([(250, 4.186)], 20, 80) == pytest.approx(62_800, rel=1e-3)
    assert heat_j([(500, 0.900)], 20, 80) == pytest.approx(27_000, rel=1e-3)
    assert heat_j([(250, 4.186), (500, 0.900)], 20, 80) == pytest.approx(89_800, rel=1e-3)


def test_ice_in_a_soda() -> None:
    # OpenStax College Physics, ch. 14, ice cubes in soda (from memory): three cubes of 6 g at 0 °C
    # take 0.25 kg of soda from 20 °C to 13 °C. Backwards: the ice for that fall is 18 g.
    final_c = (250 * 4.186 * 20 - 18 * 334) / ((250 + 18) * 4.186)
    assert final_c == pytest.approx(13, abs=0.5)
    given_off = -heat_j([(250, 4.186)], 20, final_c)
    assert ice_g(given_off, final_c) == pytest.approx(18, rel=5e-3)


def test_ice_for_tea_from_80_to_5_degrees() -> None:
    # 250 g from 80 to 5 °C by ice whose water ends at 5 °C: 221.5 g, worked out from the latent
    # heat of IAPWS-95 and R10-06 (333.43 J/g) and 4.186 J/(g K).
    assert ice_g(250 * 4.186 * 75, 5.0) == pytest.approx(221.5, abs=0.2)


def test_one_kilo_of_ice_cools_three_of_water_from_25_to_0() -> None:
    # UNU Fisheries Training Programme, chilling course: about 3 kg; 80 kcal/kg over 25 kcal/kg
    # (FAO Fisheries Technical Paper 331) is 3.2.
    assert 3.0 < 25_000 / ice_g(heat_j([(25_000, 4.186)], 0, 25)) < 3.3


def test_a_kettle_of_2_kw_boils_a_litre_in_three_minutes() -> None:
    # 1 kg x 4.19 J/(g K) x 80 K = 335 kJ; by hand 335 200 / 2000 = 167.6 s.
    assert minutes(heat_j([(1000, 4.19)], 20, 100), 2000) == pytest.approx(167.6 / 60)
    # the rule of thumb of the key's help: litres x degrees x 70 / minutes = 4190 / 60 = 69.8
    assert 1 * 80 * 70 / minutes(heat_j([(1000, 4.19)], 20, 100), 2000) == pytest.approx(
        2000, rel=0.01
    )


@pytest.mark.parametrize(
    ("share", "published"),
    [
        (0.0, 4.19),  # water, IAPWS-95
        (1.0, 1.24),  # sucrose crystals at 25 °C, CRC Handbook (from memory)
        (0.5, 3.0),  # sucrose solution of 50 Brix at 20 °C, Bubnik 1995 (from memory)
        (0.127, 3.89),  # whole milk, 87.3 % water, ASHRAE Refrigeration, foods (from memory)
    ],
)
def test_specific_heats_lie_near_published_ones(share: float, published: float) -> None:
    assert specific_heat(share) == pytest.approx(published, rel=0.02)


def test_no_specific_heat_beyond_all_solids() -> None:
    with pytest.raises(FigureError):
        specific_heat(1.2)


def test_solids_from_brix_from_nutrition_from_parts_or_none() -> None:
    sugar = s.ingredient("sugar", brix=100.0)
    water = s.ingredient("water")
    milk = s.ingredient(
        "milk",
        density_g_ml=1.03,
        nutrition=s.nutrition("ml", fat_g=3.6, carbohydrate_g=4.8, protein_g=3.3, salt_g=0.1),
    )
    assert solids_share(sugar) == 1.0
    assert solids_share(water) == 0.0
    assert solids_share(milk) == pytest.approx(11.8 / 103)
    assert solids_share(replace(milk, density_g_ml=None)) == pytest.approx(11.8 / 100)
    assert solids_share(s.batch("nothing", [])) == 0.0
    syrup = s.batch("syrup", [s.part(sugar, 600), s.part(water, 400)], yield_factor=0.8)
    assert solids_share(syrup) == pytest.approx(600 / 800)
