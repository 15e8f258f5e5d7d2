"""Sugar, caffeine, energy and label rounding against published tables."""

import math
from decimal import Decimal

import pytest
from figure_samples import numbers
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.cup.errors import FigureError
from buildsheets.prep.food_labels import EU_FACTORS, label_amount, label_energy
from buildsheets.prep.nutrition import (
    Source,
    SugarPart,
    brix,
    kcal_to_kj,
    kj_to_kcal,
    per_100_ml,
    sucrose_density,
    sugar_g,
    total_content,
)

CRC = {  # "Rubber Handbook" table of sucrose solutions at 20 C, g/cm3
    0: 0.9982, 10: 1.0381, 20: 1.0810, 30: 1.1270, 40: 1.1765, 50: 1.2295, 60: 1.2864,
    64: 1.3103, 66: 1.3224, 70: 1.3472, 74: 1.3726, 76: 1.3855,
}  # fmt: skip
BUBNIK = {  # the equation of Bubnik et al., Sugar Technologists Manual (1995), p. 164
    0: 0.99820, 10: 1.03812, 20: 1.08098, 30: 1.12703, 40: 1.17652, 50: 1.22965, 60: 1.28661,
    65: 1.31656, 67: 1.32881, 70: 1.34748, 75: 1.37937,
}  # fmt: skip
NBS_IN_AIR = {  # NBS Circular 440, table 114, weighed in air: about 0.001 under true density
    0: 0.99717, 20: 1.07991, 40: 1.17540, 65: 1.31532, 75: 1.37796,
}  # fmt: skip


@pytest.mark.parametrize(("degrees", "density"), CRC.items())
def test_sucrose_density_is_that_of_the_crc_table(degrees, density):
    assert sucrose_density(degrees) == pytest.approx(density, abs=8e-4)


@pytest.mark.parametrize(("degrees", "density"), BUBNIK.items())
def test_sucrose_density_is_that_of_the_published_equation(degrees, density):
    assert sucrose_density(degrees) == pytest.approx(density, abs=1e-5)  # its last digit


@pytest.mark.parametrize(("degrees", "density"), NBS_IN_AIR.items())
def test_sucrose_density_is_a_little_over_that_weighed_in_air(degrees, density):
    assert 0.0005 < sucrose_density(degrees) - density < 0.0016


def test_syrups():
    assert sucrose_density(50) == pytest.approx(1.2297, abs=1e-4)  # 1:1 by mass
    assert sucrose_density(200 / 3) == pytest.approx(1.3268, abs=1e-4)  # 2:1 by mass
    # grams of sugar per litre of the 50 Bx syrup: 614.8
    assert 1000 * sucrose_density(50) * 0.5 == pytest.approx(614.8, abs=0.05)
    # 1 US cup of sugar (200 g) and 1 US cup of water: 45.9 Bx, 1.2072 g/ml, makes 361 ml, not 473
    water = 236.5882365 * 0.9982
    degrees = brix([SugarPart(200, 100), SugarPart(water, 0)])
    assert degrees == pytest.approx(45.9, abs=0.05)
    assert (200 + water) / sucrose_density(degrees) == pytest.approx(361, abs=0.5)


def test_brix_is_of_the_liquid_and_sugar_of_everything():
    parts = [
        SugarPart(30, 65),
        SugarPart(200, 0),
        SugarPart(50, 0),  # melt water
        SugarPart(60, 20, liquid=False),  # sweet pearls
        SugarPart(100, 0, liquid=False),  # ice
    ]
    assert brix(parts) == pytest.approx(100 * 19.5 / 280)
    assert sugar_g(parts) == pytest.approx(19.5 + 12)


def test_what_is_not_known_is_not_computed():
    assert brix([SugarPart(100, 10), SugarPart(10, None)]) is None
    assert sugar_g([SugarPart(100, 10), SugarPart(10, None, liquid=False)]) is None
    assert brix([SugarPart(100, 10), SugarPart(10, None, liquid=False)]) == pytest.approx(10)
    assert brix([]) is None
    assert sugar_g([SugarPart(0, None)]) == 0  # nothing of it: nothing is missing
    assert total_content([Source(50, mass_g=10), Source(None, mass_g=10)]) is None
    assert total_content([Source(50, mass_g=10), Source(None, mass_g=0)]) == 5
    assert total_content([Source(50, "100 ml", mass_g=10)]) is None  # density missing
    assert total_content([Source(50, "100 g", volume_ml=10)]) is None
    assert label_energy(carbohydrate=10, protein=None) is None
    assert per_100_ml(None, 100) is None


@pytest.mark.parametrize(
    ("milligrams", "served_ml", "per_litre"),
    [(50, 220, 227), (90, 200, 450), (80, 60, 1333), (40, 355, 113), (80, 250, 320)],
)
def test_caffeine_of_the_efsa_factsheet(milligrams, served_ml, per_litre):
    # EFSA (2015): black tea, filter coffee, espresso, cola, energy drink
    content = 100 * milligrams / served_ml
    total = total_content([Source(content, "100 ml", volume_ml=served_ml)])
    assert total == pytest.approx(milligrams)
    assert 10 * per_100_ml(total, served_ml) == pytest.approx(per_litre, abs=0.5)


def test_contents_per_100_g_and_per_100_ml_agree_through_the_density():
    assert total_content([Source(20, "100 ml", mass_g=206, density=1.03)]) == pytest.approx(40)
    assert total_content([Source(20, "100 g", volume_ml=200, density=1.03)]) == pytest.approx(41.2)
    assert total_content([Source(20, "100 g", mass_g=200), Source(1, "100 ml", volume_ml=50)]) == (
        pytest.approx(40.5)
    )


def test_label_factors_of_annex_xiv():
    # Regulation (EU) 1169/2011, Annex XIV
    assert EU_FACTORS == {
        "carbohydrate": (4, 17),
        "polyols": (2.4, 10),
        "protein": (4, 17),
        "fat": (9, 37),
        "salatrims": (6, 25),
        "ethanol": (7, 29),
        "organic_acids": (3, 13),
        "fibre": (2, 8),
        "erythritol": (0, 0),
    }
    each = {name: label_energy(**{"carbohydrate": 0, name: 10}) for name in EU_FACTORS}
    assert all((each[n].kcal, each[n].kj) == (10 * a, 10 * b) for n, (a, b) in EU_FACTORS.items())


def test_energy_of_milk_and_sugar():
    # per 100 g of milk: protein 3.15, fat 3.25, carbohydrate 4.80 (USDA 01077, which says 61 kcal)
    milk = label_energy(protein=3.15, fat=3.25, carbohydrate=4.80)
    assert milk.kcal == pytest.approx(61.05)
    assert milk.kj == pytest.approx(255.4)
    # on a label kJ is not kcal x 4.184: sugar 99.98 g is 1699.7 kJ, not 1673.3
    sugar = label_energy(carbohydrate=99.98)
    assert sugar.kj == pytest.approx(1699.7, abs=0.05)
    assert kcal_to_kj(sugar.kcal) == pytest.approx(1673.3, abs=0.05)
    assert kj_to_kcal(kcal_to_kj(123.0)) == pytest.approx(123)


@pytest.mark.parametrize(
    ("nutrient", "value", "amount", "less_than"),
    [
        # FDA Food Labeling Guide, Appendix H
        *[("energy", *row, False) for row in [(4.9, 0), (5, 5), (7.5, 10), (47, 45), (47.5, 50),
                                              (54, 50), (55, 60), (107, 110), (42.5, 45)]],
        *[("fat", *row, False) for row in [(0.49, 0), (1.2, 1), (1.25, 1.5), (4.7, 4.5), (5.5, 6)]],
        *[("sodium", *row, False) for row in [(4, 0), (127, 125), (142, 140), (145, 150)]],
        *[("potassium", *row, False) for row in [(4.9, 0), (140, 140), (146, 150)]],
        ("sugars", 0.7, 1, True),
        ("sugars", 2.5, 3, False),
        ("sugars", 0.4, 0, False),
        ("carbohydrate", 0.5, 1, True),
        ("fibre", 2.49, 2, False),
        ("protein", 0.99, 1, True),
        ("cholesterol", 1.9, 0, False),
        ("cholesterol", 2, 5, True),
        ("cholesterol", 5, 5, True),
        ("cholesterol", 7.5, 10, False),
        # 1 cup of milk, 244 g, USDA 01077, from end to end
        ("energy", 148.84, 150, False),
        ("fat", 7.93, 8, False),
        ("carbohydrate", 11.71, 12, False),
        ("sugars", 12.32, 12, False),
        ("protein", 7.69, 8, False),
        ("sodium", 104.9, 105, False),
        # binary noise: 2.4999999999999996 was meant to be 2.5
        ("sugars", 0.1 + 0.7 + 1.7, 3, False),
    ],
)  # fmt: skip
def test_fda_rounding_table(nutrient, value, amount, less_than):
    rounded = label_amount(nutrient, value)
    assert (rounded.amount, rounded.less_than) == (Decimal(str(amount)), less_than)


@given(st.lists(st.tuples(numbers(0, 500), numbers(0, 100)), min_size=1, max_size=6))
def test_brix_lies_between_its_parts(rows):
    parts = [SugarPart(mass, degrees) for mass, degrees in rows]
    mixed = brix(parts)
    present = [part.sugar_pct for part in parts if part.mass_g > 0]
    if mixed is None:
        assert not present
    else:
        assert min(present) - 1e-9 <= mixed <= max(present) + 1e-9


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: SugarPart(-1, 10), "mass_g"),
        (lambda: SugarPart(1, 101), "sugar_pct"),
        (lambda: SugarPart(1, -1), "sugar_pct"),
        (lambda: sucrose_density(-1), "brix_degrees"),
        (lambda: sucrose_density(101), "brix_degrees"),
        (lambda: sucrose_density(math.nan), "brix_degrees"),
        (lambda: Source(1), "mass_g"),
        (lambda: Source(1, mass_g=1, volume_ml=1), "mass_g"),
        (lambda: Source(-1, mass_g=1), "content"),
        (lambda: Source(1, volume_ml=-1), "volume_ml"),
        (lambda: Source(1, mass_g=1, density=0), "density"),
        (lambda: Source(1, "cup", mass_g=1), "per"),
        (lambda: per_100_ml(1, 0), "volume_ml"),
        (lambda: label_energy(fat=-1), "fat"),
        (lambda: label_amount("sugars", -1), "value"),
        (lambda: label_amount("vitamin", 1), "nutrient"),
        (lambda: kcal_to_kj(-1), "kcal"),
        (lambda: kj_to_kcal(-1), "kj"),
    ],
)
def test_refusals_name_the_input(call, named):
    with pytest.raises(FigureError) as refused:
        call()
    assert refused.value.input_name == named
