"""Cost: exact, rounded once, half up; checked by hand and by rational arithmetic."""

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.cup.errors import FigureError
from buildsheets.prep.cost import CostLine, cost, exact_cost, rounded_money


def test_a_drink_worked_by_hand():
    lines = [
        CostLine(used=25, pack_quantity=1000, pack_price=Decimal("7.50")),  # 0.1875
        CostLine(used=200, pack_quantity=2000, pack_price=Decimal("2.30")),  # 0.23
        CostLine(used=30, pack_quantity=500, pack_price=Decimal(3), usable=Decimal("0.9")),  # 0.2
    ]
    assert exact_cost(lines) == Fraction("0.6175")
    assert cost(lines) == Decimal("0.62")


def test_halves_go_up_and_only_the_sum_is_rounded():
    third = CostLine(used=1, pack_quantity=1000, pack_price=5)  # 0.005
    assert cost([third]) == Decimal("0.01")
    assert cost([third] * 3) == Decimal("0.02")  # 0.015, not 3 x 0.01
    thirds = [CostLine(used=1, pack_quantity=3, pack_price=1)] * 3
    assert cost(thirds) == Decimal("1.00")
    # binary: 1.005 as a float is below the half; it is read as written
    assert cost([CostLine(used=1, pack_quantity=1, pack_price=1.005)]) == Decimal("1.01")
    assert str(cost([])) == "0.00"


def test_a_missing_price_is_not_zero():
    known = CostLine(used=1, pack_quantity=10, pack_price=5)
    assert cost([known, CostLine(used=1, pack_quantity=10, pack_price=None)]) is None
    assert cost([known, CostLine(used=0, pack_quantity=10, pack_price=None)]) == Decimal("0.50")


@given(
    st.lists(st.tuples(st.integers(0, 999), st.integers(1, 999), st.integers(0, 9999)), max_size=6)
)
def test_rounding_is_within_half_a_cent(rows):
    lines = [CostLine(used, pack, Decimal(cents) / 100) for used, pack, cents in rows]
    exact = exact_cost(lines)
    error = Fraction(cost(lines)) - exact
    assert -Fraction(1, 200) < error <= Fraction(1, 200)
    assert cost(reversed(lines)) == cost(lines)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: CostLine(-1, 1, 1), "used"),
        (lambda: CostLine(1, 0, 1), "pack_quantity"),
        (lambda: CostLine(1, -1, 1), "pack_quantity"),
        (lambda: CostLine(1, 1, -1), "pack_price"),
        (lambda: CostLine(1, 1, 1, usable=0), "usable"),
        (lambda: CostLine(1, 1, 1, usable=1.1), "usable"),
        (lambda: CostLine(math.nan, 1, 1), "used"),
        (lambda: CostLine(1, 1, Decimal("Infinity")), "pack_price"),
        (lambda: CostLine(True, 1, 1), "used"),
        (lambda: rounded_money(Fraction(-1)), "amount"),
    ],
)
def test_refusals_name_the_input(call, named):
    with pytest.raises(FigureError) as refused:
        call()
    assert refused.value.input_name == named
