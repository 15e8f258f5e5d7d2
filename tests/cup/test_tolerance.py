"""Tolerances against OIML R 138, JCGM 100, the uncertainties library and Monte Carlo."""

import math

import pytest
from figure_samples import cup_of_class, numbers
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from buildsheets.cup.errors import FigureError
from buildsheets.cup.items import Bed, Cap, Ice, Liquid
from buildsheets.cup.simulate import ToLine
from buildsheets.cup.tolerance import AmountTolerance as Tolerance
from buildsheets.cup.tolerance import Term, build_monte_carlo, build_spread, combine, pour_spread

CUP = cup_of_class(500)
STEPS = [Bed(60, 1.1, 0.66), Liquid(150, 1.0017), Ice(150), Liquid(80, 1.03), Cap(30, 1.0, 100)]


@pytest.mark.parametrize(("nominal", "limit"), [(250, 11.25), (500, 17.5), (700, 22.5)])
def test_serving_measure_of_oiml_r_138(nominal, limit):
    # OIML R 138:2007, 5.1.1: drinking measure of 200 ml or more, to a line: 5 ml + 2.5 %
    spread = combine(
        [Term("line", nominal, Tolerance(2.5, percent=True)), Term("fixed", 0, Tolerance(5))]
    )
    assert spread.worst_ml == pytest.approx(limit)
    assert spread.nominal_ml == nominal


def test_transfer_measure_of_oiml_r_138():
    # OIML R 138:2007, 5.1.1: transfer measure of 100 ml or more, to a line: 3 %
    assert Tolerance(3, percent=True).half_width(500) == 15
    assert Tolerance(2).half_width(50) == 2


def test_root_sum_square_of_jcgm_100():
    # JCGM 100:2008, 5.1.2, eq. (10): 5 and 2.5 ml make 5.5902; uncertainties gives the same
    terms = [Term("a", 200, Tolerance(5, kind="std")), Term("b", 100, Tolerance(2.5, kind="std"))]
    spread = combine(terms)
    assert spread.standard_ml == pytest.approx(5.5902, abs=5e-5)
    assert spread.standard_ml == pytest.approx((ufloat(200, 5) + ufloat(100, 2.5)).s)
    assert spread.expanded_ml == pytest.approx(2 * 5.5902, abs=1e-4)
    assert spread.worst_ml == pytest.approx(2 * 7.5)  # 2 u stands in for the width of a std


def test_a_limit_is_rectangular():
    # JCGM 100:2008, 4.3.7 (from memory): u = a / sqrt 3; +-5 ml is 2.887 ml
    assert Tolerance(5).standard(200) == pytest.approx(2.887, abs=5e-4)
    assert Tolerance(2, percent=True).standard(200) == pytest.approx(4 / math.sqrt(3))


def test_the_whole_build_against_the_uncertainties_library():
    sizes = [5.0, 4.0, 20.0, 3.0, 2.0]
    bed, tea, ice, milk, cap = (
        ufloat(amount, size) for amount, size in zip((60, 150, 150, 80, 30), sizes, strict=True)
    )
    capped = bed / 1.1 + tea + ice / 0.9167 + milk + cap * 2
    tolerances = [Tolerance(size, kind="std") for size in sizes]
    spread = build_spread(CUP, STEPS, tolerances)
    assert spread.nominal_ml == pytest.approx(capped.n, abs=1e-9)
    assert spread.standard_ml == pytest.approx(capped.s, rel=1e-9)
    # the liquid under floating ice: V + bed + M / rho, rho itself uncertain
    density = (tea * 1.0017 + milk * 1.03) / (tea + milk)
    liquid = tea + milk + bed / 1.1 + ice / density
    spread = build_spread(CUP, STEPS, tolerances, level="liquid")
    assert spread.nominal_ml == pytest.approx(liquid.n, abs=1e-9)
    assert spread.standard_ml == pytest.approx(liquid.s, rel=1e-7)


def test_sensitivities_are_those_of_the_fill_model():
    exact = [Tolerance(0)] * 5
    top = [term.sensitivity for term in build_spread(CUP, STEPS, exact).terms]
    assert top == pytest.approx([1 / 1.1, 1, 1 / 0.9167, 1, 2], rel=1e-8)
    liquid = build_spread(CUP, STEPS, exact, level="liquid").terms
    assert liquid[2].sensitivity == pytest.approx(230 / (150 * 1.0017 + 80 * 1.03), rel=1e-8)
    assert liquid[4].sensitivity == 0
    fluid = build_spread(CUP, STEPS, exact, level="fluid_top")
    assert fluid.nominal_ml == build_spread(CUP, STEPS, exact).nominal_ml


def test_an_amount_of_zero_has_a_one_sided_sensitivity():
    spread = build_spread(CUP, [Liquid(100, 1.0), Ice(0)], [None, Tolerance(5)])
    assert spread.nominal_ml == 100
    # the first cube of a pack that floats lifts its top by 1/rho and by what stands out
    assert spread.terms[1].sensitivity == pytest.approx(1 + (1 - 0.9167) / 0.9167 / 0.55, rel=1e-6)


def test_capacity_has_a_tolerance_too():
    terms = [Term("drink", 300, Tolerance(6))]
    spread = combine(terms, capacity_ml=310, capacity_tolerance=Tolerance(1, percent=True))
    assert spread.capacity_worst_ml == pytest.approx(3.1)
    assert spread.worst_fits  # 306 <= 306.9
    assert not combine(terms, capacity_ml=310, capacity_tolerance=Tolerance(4.1)).worst_fits
    assert combine(terms, capacity_ml=310, capacity_tolerance=Tolerance(4)).worst_fits
    assert not combine(
        terms, capacity_ml=310, capacity_tolerance=Tolerance(2.1, kind="std")
    ).worst_fits
    both = math.hypot(6 / math.sqrt(3), 3.1 / math.sqrt(3))
    assert spread.standard_total_ml == pytest.approx(both)
    assert spread.p_over == pytest.approx(0.5 * math.erfc(10 / both / math.sqrt(2)))


def test_without_any_spread_it_is_yes_or_no():
    for nominal, over in ((299, 0), (300, 0), (301, 1)):
        spread = combine([Term("drink", nominal)], capacity_ml=300)
        assert spread.p_over == over
        assert spread.nominal_fits == spread.worst_fits == (not over)
        assert spread.largest is None
        assert spread.shares == (("drink", 0),)
    spread = combine([Term("drink", 10)])
    assert (spread.p_over, spread.worst_fits, spread.nominal_fits) == (None, None, None)


def test_room_for_all_but_a_share_of_cups():
    # 1.960 and 1.645 standard deviations: NIST/SEMATECH e-Handbook, 1.3.6.7.1, normal law
    spread = combine([Term("drink", 300, Tolerance(4, kind="std"))], capacity_ml=310)
    assert spread.room_ml(0.025) == pytest.approx(1.960 * 4, abs=2e-3)
    assert spread.room_ml(0.05) == pytest.approx(1.645 * 4, abs=2e-3)
    assert spread.room_ml(0.5) == spread.room_ml(0.9) == 0.0
    assert spread.room_ml(0.0) == spread.room_ml(1e-6) == 8.0, "no more than the worst case, 2 u"
    full = combine([Term("drink", 310, Tolerance(4, kind="std"))], capacity_ml=310)
    assert full.p_over == pytest.approx(0.5)


@given(st.lists(st.tuples(numbers(0, 300), numbers(0, 20), numbers(-2, 2)), min_size=1, max_size=6))
def test_worst_case_bounds_and_shares_add_up(rows):
    terms = [
        Term(str(number), amount, Tolerance(size), sensitivity)
        for number, (amount, size, sensitivity) in enumerate(rows)
    ]
    spread = combine(terms)
    assert spread.worst_low_ml <= spread.nominal_ml <= spread.worst_high_ml
    assert spread.standard_ml <= spread.worst_ml + 1e-9
    total = sum(share for _, share in spread.shares)
    assert total == pytest.approx(1) or spread.standard_ml == pytest.approx(0, abs=1e-100)


def test_monte_carlo_agrees_with_the_propagation():
    tolerances = [Tolerance(5), Tolerance(5), Tolerance(20), Tolerance(4, kind="std"), Tolerance(2)]
    spread = build_spread(CUP, STEPS, tolerances, working_ml=473, capacity_tolerance=Tolerance(5))
    linear = spread.monte_carlo(seed=11)
    full = build_monte_carlo(
        CUP, STEPS, tolerances, working_ml=473, capacity_tolerance=Tolerance(5), seed=11
    )
    for drawn in (linear, full):
        assert drawn.draws == 100_000
        assert drawn.mean_ml == pytest.approx(spread.nominal_ml, abs=0.3)
        assert drawn.standard_ml == pytest.approx(spread.standard_ml, rel=0.02)
        assert drawn.p_over == pytest.approx(spread.p_over, abs=0.02)
    bounds = combine([Term("a", 100, Tolerance(5)), Term("b", 50, Tolerance(3), -1.0)])
    bounded = bounds.monte_carlo(seed=11)
    assert bounds.monte_carlo(seed=11) == bounded
    assert bounds.monte_carlo(seed=12) != bounded
    assert bounded.low_ml >= 50 - 8
    assert bounded.high_ml <= 50 + 8
    assert bounded.p_over is None


def test_no_amount_is_drawn_below_nothing():
    drawn = build_monte_carlo(CUP, [Liquid(0, 1.0)], [Tolerance(5)])
    assert drawn.low_ml == 0.0
    assert drawn.mean_ml == pytest.approx(1.25, abs=0.02)  # half are 0, half 2.5 on average


LINED = [Liquid(25, 1.3166), Ice(150), ToLine(1.0, line_ml=390), Cap(30, 1.0, 100)]


def test_a_later_line_step_cancels_earlier_errors_in_the_liquid_level():
    tolerances = [Tolerance(2), Tolerance(20), Tolerance.of_line(CUP, 390, 2), Tolerance(3)]
    spread = build_spread(CUP, LINED, tolerances, level="liquid")
    assert [term.sensitivity for term in spread.terms] == pytest.approx([0, 0, 1, 0], abs=1e-8)
    assert spread.largest == "step 3"
    # they move into what is poured: about 28 ml per 30 g of ice
    poured = pour_spread(CUP, LINED, 2, tolerances)
    assert poured.terms[1].sensitivity == pytest.approx(-28 / 30, abs=0.05)
    assert poured.largest == "step 2"
    assert poured.terms[2].sensitivity == pytest.approx(1, abs=0.05)


def test_a_line_tolerance_is_its_millimetres_times_the_area():
    tolerance = Tolerance.of_line(CUP, 390, 2)
    height = CUP.height_mm(390)
    assert tolerance.size == pytest.approx(2 * CUP.area_mm2(height) / 1000)
    assert tolerance.size == pytest.approx(
        CUP.volume_ml(height + 1) - CUP.volume_ml(height - 1), rel=1e-3
    )


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: Tolerance(-1), "size"),
        (lambda: Tolerance(math.nan), "size"),
        (lambda: Tolerance(1, kind="triangular"), "kind"),
        (lambda: Term("tea", -1), "tea.amount"),
        (lambda: Term("tea", 1, sensitivity=math.inf), "tea.sensitivity"),
        (lambda: combine([], capacity_ml=-1), "capacity_ml"),
        (lambda: build_spread(CUP, STEPS, []), "tolerances"),
        (lambda: build_spread(CUP, STEPS, [None] * 5, names=["tea"]), "names"),
        (lambda: build_spread(CUP, STEPS, [None] * 5, working_ml=600), "working_ml"),
        (lambda: pour_spread(CUP, LINED, 0, [None] * 4), "index"),
        (lambda: combine([Term("tea", 1)]).monte_carlo(draws=1000), "draws"),
        (lambda: Tolerance.of_line(CUP, 390, -1), "mm"),
    ],
)
def test_refusals_name_the_input(call, named):
    with pytest.raises(FigureError) as refused:
        call()
    assert refused.value.input_name == named
