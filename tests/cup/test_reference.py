"""The public arithmetic against an independent reference that works everything out another way.

Nothing here shares a formula with the package: levels come from balancing the forces on the ice,
fills and heights from halving an interval, melts from a search for the temperature, batches and
costs from exact fractions, dates from counting days, odds from scipy. The assumptions are those of
the fill model, whose section numbers stand in the comments.
"""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from math import hypot, inf, isclose, nan, pi, sqrt

import numpy as np
import pytest
from figure_samples import (
    beds,
    calibrations,
    caps,
    contents,
    cup_of_class,
    frusta,
    ices,
    liquids,
    numbers,
    profiles,
)
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from scipy.special import ndtr

from buildsheets import api

CUP = cup_of_class(500)
ML = 1e-5
"""What halving an interval leaves open."""


def first_at(
    reached: Callable[[float], bool], low: float, high: float, halvings: int = 60
) -> float:
    """The lowest number at which ``reached`` turns true."""
    for _ in range(halvings):
        middle = (low + high) / 2
        if reached(middle):
            high = middle
        else:
            low = middle
    return high


# 1 Cup --------------------------------------------------------------------------------------------


def disc_volume_ml(points: tuple[tuple[float, float], ...], height: float) -> float:
    """Discs added up by Gauss' rule of 3 nodes, exact for the square of a linear diameter."""
    nodes, weights = np.polynomial.legendre.leggauss(3)
    total = 0.0
    for (below, d0), (above, d1) in pairwise(points):
        top = min(height, above)
        if top > below:
            at = below + (top - below) * (nodes + 1) / 2
            diameter = d0 + (d1 - d0) * (at - below) / (above - below)
            total += float(np.dot(weights, pi / 4 * diameter**2)) * (top - below) / 2
    return total / 1000


@settings(max_examples=60)
@given(st.one_of(frusta, profiles()), numbers(0, 1))
def test_a_cup_is_its_discs_and_its_height_is_found_by_halving(cup: api.Cup, share: float) -> None:
    height = cup.rim_height_mm * share
    assert cup.volume_ml(height) == pytest.approx(disc_volume_ml(cup.points, height), abs=1e-9)
    volume = cup.brimful_ml * share
    found = first_at(
        lambda z: disc_volume_ml(cup.points, z) >= volume * (1 - 1e-15), 0, cup.rim_height_mm
    )
    assert cup.height_mm(volume) == pytest.approx(found, abs=0.01)
    assert cup.working_ml(headspace_mm=height) == pytest.approx(
        disc_volume_ml(cup.points, cup.rim_height_mm - height), abs=1e-9
    )


@settings(max_examples=60)
@given(calibrations(), numbers(0, 1))
def test_a_poured_cup_is_inverted_on_its_own_curve(cup: api.Cup, share: float) -> None:
    volume = cup.brimful_ml * share
    assert cup.volume_ml(cup.height_mm(volume)) == pytest.approx(volume, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("points", [[(0, 0), (50, 0), (90, 60)], [(0, 0), (0, 0), (5, 0), (9, 9)]])
def test_nothing_stands_at_the_floor_even_where_the_floor_is_a_spike(
    points: list[tuple[float, float]],
) -> None:
    cup = api.profile(points)
    assert cup.height_mm(0) == 0
    assert api.contents_state(cup, []).top_mm == 0


# 2 Contents ---------------------------------------------------------------------------------------


class Balance:
    """Levels in water readings, found by letting the ice rise until its weight is carried."""

    def __init__(self, items: list[api.Item]) -> None:
        pours = [i for i in items if isinstance(i, api.Liquid)]
        ice = [i for i in items if isinstance(i, api.Ice)]
        self.layers = [
            (i.mass_g / i.bulk_density, i.bulk_density / i.particle_density)
            for i in items
            if isinstance(i, api.Bed)
        ]
        self.bed = sum(bulk for bulk, _ in self.layers)
        self.liquid_ml = sum(i.volume_ml for i in pours)
        weight = sum(i.volume_ml * i.density for i in pours)
        self.density = weight / self.liquid_ml if self.liquid_ml > 0 else 0.0
        self.ice_g = sum(i.mass_g for i in ice)
        self.pack = sum(i.mass_g / i.density / i.packing for i in ice)
        solid = sum(i.mass_g / i.density for i in ice)
        self.solidity = solid / self.pack if self.pack else 0.0
        self.ice_density = self.ice_g / solid if solid else 0.0
        foam = sum(i.mass_g / i.density * (1 + i.overrun_pct / 100) for i in items
                   if isinstance(i, api.Cap))  # fmt: skip
        self.true_ml = (
            self.liquid_ml + sum(bulk * share for bulk, share in self.layers) + solid + foam
        )
        most = self.true_ml + self.bed + self.pack + 1
        self.ice_bottom = self.bed
        if self.density > self.ice_density and self.lift(self.bed, most) > self.ice_g:
            self.ice_bottom = first_at(lambda b: self.lift(b, most) <= self.ice_g, self.bed, most)
        self.liquid = self.surface(self.ice_bottom, most)
        self.ice_top = self.ice_bottom + self.pack if self.pack else 0.0
        base = max(self.liquid, self.bed)
        self.cap = first_at(lambda u: self.open(base, u) >= foam, base, most) if foam > 0 else 0.0
        self.top = max(self.liquid, self.bed, self.ice_top, self.cap)

    def open(self, low: float, high: float) -> float:
        """Space not taken by ice between two readings above the bed."""
        in_ice = max(0.0, min(high, self.ice_bottom + self.pack) - max(low, self.ice_bottom))
        return high - low - self.solidity * in_ice

    def surface(self, ice_bottom: float, most: float) -> float:
        """Where the liquid stands when the ice is held at ``ice_bottom``."""

        def holds(level: float) -> float:
            at, total = 0.0, 0.0
            for bulk, solid in self.layers:
                total += max(0.0, min(level, at + bulk) - at) * (1 - solid)
                at += bulk
            wet = max(0.0, min(level, ice_bottom + self.pack) - ice_bottom)
            return total + max(0.0, level - self.bed) - self.solidity * wet

        return first_at(lambda u: holds(u) >= self.liquid_ml, 0.0, most) if self.liquid_ml else 0.0

    def lift(self, ice_bottom: float, most: float) -> float:
        """g of liquid that the ice displaces when held at ``ice_bottom``."""
        wet = min(self.surface(ice_bottom, most), ice_bottom + self.pack) - ice_bottom
        return self.density * self.solidity * max(0.0, wet)


@settings(max_examples=80)
@given(contents)
@example([api.Liquid(65, 1.03), api.Ice(145)])  # a short drink over resting ice
@example([api.Bed(75, 1.10, 0.66), api.Liquid(25, 1.03), api.Ice(100)])  # barely wet
@example([api.Liquid(250, 1.03), api.Ice(150), api.Cap(3, 1.0, 100)])  # foam among the cubes
@example([api.Liquid(200, 0.80), api.Ice(100), api.Cap(40, 1.0, 400)])  # lighter than ice
@example([api.Ice(50, 0.90, 0.40), api.Liquid(300, 1.05), api.Ice(60, 0.92, 0.70)])
@example([api.Liquid(200, 1.03), api.Ice(100, packing=1e-4)])
@example([api.Liquid(200, 1.03), api.Ice(100, packing=1 - 1e-9)])
def test_levels_balance_the_forces_on_the_ice(items: list[api.Item]) -> None:
    want = Balance(items)
    # Where ice and liquid weigh the same the ice may hang anywhere.
    assume(not want.ice_g or abs(want.density - want.ice_density) > 1e-3)
    state = api.contents_state(CUP, items, CUP.working_ml(headspace_mm=5))
    got = state.levels
    assert got.liquid == pytest.approx(want.liquid, abs=ML)
    assert got.bed_top == pytest.approx(want.bed, abs=ML)
    assert got.ice_top == pytest.approx(want.ice_top, abs=10 * ML)
    assert got.cap_top == pytest.approx(want.cap, abs=10 * ML)
    assert state.top_ml == pytest.approx(want.top, abs=10 * ML)
    assert state.sum_ml == pytest.approx(want.true_ml, abs=ML)
    slack = state.working_ml - want.top
    if abs(slack) > 1e-3:
        assert state.fits == (slack > 0)
        assert state.room_ml == pytest.approx(slack, abs=10 * ML)


# 3 Fill to line -----------------------------------------------------------------------------------


@settings(max_examples=10)
@given(
    st.lists(st.one_of(liquids, beds, ices, caps), max_size=4), numbers(0.8, 1.3), numbers(0, 505)
)
@example([api.Bed(55, 1.10, 0.66), api.Liquid(135, 1.05), api.Ice(140)], 1.03, 390.0)
@example([api.Ice(100), api.Liquid(60, 1.0)], 0.85, 300.0)
def test_a_pour_to_a_line_is_found_by_pouring(
    items: list[api.Item], density: float, line: float
) -> None:
    def surface(pour: float) -> float:
        return Balance([*items, api.Liquid(pour, density)]).liquid

    now = Balance(items).liquid
    filled = api.fill_to_line(CUP, items, density=density, line_ml=line)
    if now >= line:
        assert filled.poured_ml == pytest.approx(0.0, abs=ML)
        assert filled.already_over_ml == pytest.approx(now - line, abs=ML)
        return
    assert surface(filled.poured_ml) == pytest.approx(line, abs=ML)
    for share in (0.25, 0.5, 0.75, 0.99):  # and no smaller pour reaches it
        assert surface(filled.poured_ml * share) <= line + ML


# 4 Chilling ---------------------------------------------------------------------------------------


@settings(max_examples=100)
@given(
    st.tuples(numbers(1, 500), numbers(3, 4.3), numbers(0, 95)),
    st.tuples(numbers(0, 400), numbers(-20, 0)),
    st.tuples(numbers(0, 300), numbers(-20, 90)),
    numbers(0, 5000),
    st.sampled_from([0.0, -0.6]),
)
@example((200.0, 4.19, 90.0), (100.0, 0.0), (0.0, 0.0), 0.0, 0.0)
@example((100.0, 3.334, 100.0), (100.0, 0.0), (0.0, 0.0), 0.0, 0.0)  # E = M L to the joule
@example((100.0, 4.1, 50.0), (1000.0, -10.0), (0.0, 0.0), 0.0, 0.0)  # E = 0 to the joule
@example((100.0, 4.0, 0.0), (100.0, -20.0), (50.0, -20.0), 0.0, 0.0)
def test_heat_is_kept_at_the_temperature_that_is_found(
    liquid: tuple[float, float, float],
    ice: tuple[float, float],
    container: tuple[float, float],
    gain: float,
    freezing: float,
) -> None:
    (mass, heat, warm), (ice_g, cold), (tin, tin_c) = liquid, ice, container
    warm, cold = freezing + warm, freezing + cold

    def surplus(temperature: float, melted: float) -> float:
        """J still to be given away once all stand at ``temperature``, ``melted`` g melted."""
        given = mass * heat * (warm - temperature) + tin * (tin_c - temperature) + gain
        taken = ice_g * 2.05 * (freezing - cold) + melted * 333.4
        return given - taken - max(0.0, melted) * 4.19 * (temperature - freezing)

    def mix() -> api.Chilled:
        return api.chill(
            liquid_g=mass, liquid_density=1.0, liquid_c=warm, liquid_heat=heat, ice_g=ice_g,
            ice_c=cold, freezing_c=freezing, container_j_per_k=tin, container_c=tin_c,
            heat_gain_j=gain,
        )  # fmt: skip

    if surplus(freezing, -mass) < -1e-6:
        with pytest.raises(api.NotEnoughHeatError):
            mix()
        return
    assume(surplus(freezing, -mass) > 1e-6)
    got = mix()
    if surplus(freezing, ice_g) > 0:
        melted = ice_g
        temperature = first_at(lambda t: surplus(t, ice_g) <= 0, freezing, 1e4, 80)
    else:
        melted = first_at(lambda m: surplus(freezing, m) <= 0, -mass, ice_g, 80)
        temperature = freezing
    assert got.melted_g - got.frozen_g == pytest.approx(melted, abs=1e-6)
    assert got.temperature_c == pytest.approx(temperature, abs=1e-6)
    assert got.liquid_g + got.ice_left_g == pytest.approx(mass + ice_g)
    assert got.net_volume_change_ml == pytest.approx(
        (got.liquid_ml - mass) + (got.ice_left_g - ice_g) / 0.9167, abs=1e-6
    )


def test_a_liquid_that_just_freezes_through_pours_nothing() -> None:
    # 3 x 333.4 J of cold; in binary a trace more than the 3 g of liquid can give.
    ice_g = 3 * 333.4 / (2.05 * 15)
    assert ice_g * 2.05 * 15 / 333.4 > 3
    through = api.chill(liquid_g=3, liquid_density=1.0, liquid_c=0, ice_g=ice_g, ice_c=-15)
    assert through.frozen_g == 3
    assert through.strained().volume_ml == 0
    assert through.dumped()[1].mass_g == pytest.approx(ice_g + 3)


# 5 Tolerances -------------------------------------------------------------------------------------

TERMS = st.lists(
    st.tuples(
        numbers(0, 300), numbers(0, 20), st.booleans(), st.sampled_from(["limit", "std"]),
        numbers(-2, 2),
    ),
    max_size=5,
)  # fmt: skip


@settings(max_examples=60)
@given(TERMS, numbers(0, 900), numbers(0, 20))
def test_a_spread_is_that_of_its_corners_and_of_scipys_normal_law(
    terms: list[tuple[float, float, bool, str, float]], capacity: float, lacking: float
) -> None:
    made = api.combine(
        [
            api.Term(str(n), x, api.Tolerance(size, percent, kind), slope)  # type: ignore[arg-type]
            for n, (x, size, percent, kind, slope) in enumerate(terms)
        ],
        capacity_ml=capacity,
        capacity_tolerance=api.Tolerance(lacking),
    )
    corners, variance = [0.0], (lacking / sqrt(3)) ** 2
    for x, size, percent, kind, slope in terms:
        half = x * size / 100 if percent else size
        worst = half if kind == "limit" else 2 * half
        corners = [c + slope * (x + sign * worst) for c in corners for sign in (-1, 1)]
        variance += (slope * (half / sqrt(3) if kind == "limit" else half)) ** 2
    assert made.worst_high_ml == pytest.approx(max(corners), abs=1e-9)
    assert made.worst_low_ml == pytest.approx(min(corners), abs=1e-9)
    assert made.standard_total_ml == pytest.approx(sqrt(variance), abs=1e-9)
    if variance > 1e-12:
        odds = ndtr((made.nominal_ml - capacity) / sqrt(variance))
        assert made.p_over == pytest.approx(odds, rel=1e-6, abs=1e-12)


def test_a_later_line_takes_over_the_errors_before_it() -> None:
    steps = [api.Bed(55, 1.10, 0.66), api.Liquid(135, 1.05), api.Ice(140), api.ToLine(1.03, 390)]
    jug, line = api.Tolerance(5), api.Tolerance.of_line(CUP, 390, mm=2)
    level = api.build_spread(CUP, steps, [jug, jug, jug, line], level="liquid")
    assert [term.sensitivity for term in level.terms] == pytest.approx([0, 0, 0, 1], abs=1e-6)

    def pour(bed: float, liquid: float, ice: float, to: float) -> float:
        first: list[api.Item] = [
            api.Bed(bed, 1.10, 0.66), api.Liquid(liquid, 1.05), api.Ice(ice)
        ]  # fmt: skip
        return first_at(lambda ml: Balance([*first, api.Liquid(ml, 1.03)]).liquid >= to, 0, 400, 45)

    at = [55.0, 135.0, 140.0, 390.0]
    poured = api.pour_spread(CUP, steps, 3, [jug, jug, jug, line])
    for index, term in enumerate(poured.terms):
        more, less = list(at), list(at)
        more[index] += 1
        less[index] -= 1
        assert term.sensitivity == pytest.approx((pour(*more) - pour(*less)) / 2, rel=1e-3)
    per_mm = CUP.volume_ml(CUP.height_mm(390) + 0.5) - CUP.volume_ml(CUP.height_mm(390) - 0.5)
    assert line.size == pytest.approx(2 * per_mm, rel=1e-4)
    assert poured.standard_ml == pytest.approx(hypot(*(term.standard_ml for term in poured.terms)))


# 6 Batch and shelf life ---------------------------------------------------------------------------

WRITTEN = ["0.1", "0.3", "0.7", "1", "5", "12.5", "33.3", "40", "250", "500", "1000"]
written = st.sampled_from(WRITTEN)


def whole_up(amount: Fraction) -> int:
    return -(-amount.numerator // amount.denominator)


@settings(max_examples=200)
@given(
    st.lists(st.tuples(written, st.sampled_from(["1", "1.03", "0.9"]), written), min_size=1,
             max_size=4),
    st.sampled_from(["0.1", "0.3", "5", "40", "33.3"]),
    st.sampled_from(["0", "60", "100", "400"]),
    st.sampled_from(["0", "0.05", "0.1", "0.333"]),
    st.sampled_from(["0.1", "0.3", "1", "1.5", "3"]),
    st.sampled_from(["0.3", "300", "3000"]),
)  # fmt: skip
@example([("0.3", "1", "0.1")], "0.1", "0", "0", "3", "0.3")
def test_batches_in_exact_fractions(
    parts: list[tuple[str, str, str]], portion: str, overrun: str, loss: str, scale: str, bowl: str
) -> None:
    f, n = Fraction(scale), Fraction(portion)
    mass = sum(Fraction(m) for m, _, _ in parts)
    whipped = sum(Fraction(m) / Fraction(d) for m, d, _ in parts) * (1 + Fraction(overrun) / 100)
    made = whipped * (1 - Fraction(loss))
    goods = [
        api.BatchIngredient(str(k), float(m), float(d), float(p))
        for k, (m, d, p) in enumerate(parts)
    ]
    batch = api.batch_yield(
        goods, portion_ml=float(portion), overrun_pct=float(overrun), loss=float(loss)
    )
    assert batch.portions == made // n
    assert batch.leftover_ml == pytest.approx(float(made % n), abs=1e-6)
    assert batch.portion_g == pytest.approx(float(mass / whipped * n))
    assert batch.scale_for(37) == pytest.approx(float(37 * n / made))
    assert batch.portions_at(batch.scale_for(37)) == 37
    assert batch.portions_at(float(scale)) == f * made // n
    for pack, (m, _, p) in zip(api.packs_needed(goods, float(scale)), parts, strict=True):
        need = f * Fraction(m)
        assert pack.packs == whole_up(need / Fraction(p))
        assert pack.leftover_g == pytest.approx(float(pack.packs * Fraction(p) - need), abs=1e-6)
    lead_need, lead_pack = Fraction(parts[0][0]), Fraction(parts[0][2])
    lead = whole_up(f * lead_need / lead_pack)
    rounded = api.whole_packs_of("0", iter(goods), batch, float(scale))
    assert rounded.lead_packs == lead
    exact = lead * lead_pack / lead_need * made / n
    # Of ten million portions the forgiven 1e-9 is a hundredth of one: no shop counts so far.
    assert exact > 1_000_000 or rounded.portions == exact // 1
    assert len(rounded.packs) == len(parts)
    usable = Fraction(bowl) * Fraction("0.6")
    loads = api.bowl_loads(batch.whipped_ml, bowl_ml=float(bowl), fill=0.6, scale=float(scale))
    assert (loads.fits, loads.loads) == (whipped * f <= usable, whole_up(whipped * f / usable))
    assert loads.largest_scale == pytest.approx(float(usable / whipped))


@pytest.mark.parametrize("start", ["2024-02-28", "2023-02-28", "2023-12-31", "2024-01-31"])
@pytest.mark.parametrize("days", [1, 2, 7, 30])
def test_discard_dates_count_the_days_of_use(start: str, days: int) -> None:
    prepared = date.fromisoformat(start)
    in_use = [prepared]
    while len(in_use) < days:
        in_use.append(in_use[-1] + timedelta(days=1))
    assert api.discard_date(prepared, days) == in_use[-1]
    assert api.discard_date(prepared, days, prepared) == prepared
    assert api.discard_date(prepared, days, [date(2099, 1, 1), in_use[-1]]) == in_use[-1]
    noon = datetime(prepared.year, prepared.month, prepared.day, 12)
    assert api.discard_date(noon, days, [noon]) == prepared


# 7 Sugar, caffeine, energy, cost ------------------------------------------------------------------


@settings(max_examples=200)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["0", "0.005", "12.5", "25"]), st.sampled_from(["0.7", "3", "1000"]),
            st.sampled_from(["0", "0.05", "7", "19.99"]), st.sampled_from(["1", "0.5", "0.333"]),
        ),
        max_size=5,
    ),
    st.sampled_from([float, Decimal, Fraction, np.float64]),
)  # fmt: skip
def test_cost_is_the_exact_fraction_rounded_once(
    lines: list[tuple[str, str, str, str]], kind: Callable[[str], float]
) -> None:
    exact = sum((Fraction(u) / (Fraction(q) * Fraction(s)) * Fraction(p) for u, q, p, s in lines),
                Fraction(0))  # fmt: skip
    made = [api.CostLine(kind(u), kind(q), kind(p), kind(s)) for u, q, p, s in lines]
    assert api.exact_cost(made) == exact
    # Half a cent up: the cent that is no more than half a cent below, the higher of two.
    cents = next(
        c for c in range(int(exact * 100) + 1, -1, -1) if c - exact * 100 <= Fraction(1, 2)
    )
    assert api.cost(made) == Decimal(cents) / 100


@pytest.mark.parametrize("per", ["100 g", "100 ml"])
@pytest.mark.parametrize("given_as", ["mass_g", "volume_ml"])
def test_contents_per_hundred_by_the_other_measure(per: str, given_as: str) -> None:
    source = api.Source(20, per, density=1.25, **{given_as: 250})  # type: ignore[arg-type]
    amounts = {
        ("100 g", "mass_g"): 250.0,
        ("100 g", "volume_ml"): 312.5,
        ("100 ml", "mass_g"): 200.0,
        ("100 ml", "volume_ml"): 250.0,
    }
    amount = amounts[per, given_as]
    assert api.total_content([source, source]) == pytest.approx(2 * 20 * amount / 100)


# 8 Refusals ---------------------------------------------------------------------------------------

PREPARED = date(2024, 1, 2)
PART = api.BatchIngredient("tea", 100, 1.0, 50)
CHILL = {"liquid_g": 1.0, "liquid_density": 1.0, "liquid_c": 20.0, "ice_g": 1.0}

REFUSED: list[tuple[str, Callable[[], object]]] = [
    ("height_mm", lambda: api.frustum(50, 80, 0)),
    ("rim_mm", lambda: api.frustum(50, 0, 80)),
    ("base_mm", lambda: api.frustum(-1, 80, 80)),
    ("base_mm", lambda: api.frustum(nan, 80, 80)),
    ("points[0].height", lambda: api.profile([(1, 50), (80, 60)])),
    ("points[2].height", lambda: api.profile([(0, 50), (80, 60), (70, 60)])),
    ("points[1].diameter", lambda: api.profile([(0, 50), (40, -1), (80, 60)])),
    ("points", lambda: api.profile(5)),  # type: ignore[arg-type]
    ("points[0]", lambda: api.profile([5, 6])),  # type: ignore[list-item]
    ("points[2].volume", lambda: api.calibration([(10, 5), (20, 5)])),
    ("points[2].height", lambda: api.calibration([(20, 5), (20, 6)])),
    ("headspace_mm", lambda: CUP.working_ml(headspace_mm=-1)),
    ("headspace_mm", lambda: CUP.working_ml(headspace_mm=114.001)),
    ("volume_ml", lambda: api.Liquid(-1, 1)),
    ("density", lambda: api.Liquid(1, 0)),
    ("mass_g", lambda: api.Bed(-1, 1.1, 0.66)),
    ("bulk_density", lambda: api.Bed(1, 1.1, 1.1)),
    ("mass_g", lambda: api.Ice(-1)),
    ("packing", lambda: api.Ice(1, packing=0)),
    ("packing", lambda: api.Ice(1, packing=1)),
    ("mass_g", lambda: api.Cap(-1, 1, 100)),
    ("overrun_pct", lambda: api.Cap(1, 1, -1)),
    ("working_ml", lambda: api.contents_state(CUP, [], 506)),
    ("items", lambda: api.contents_state(CUP, [api.ToLine(1, 50)])),  # type: ignore[list-item]
    ("items", lambda: api.add_up(["ice"])),  # type: ignore[list-item]
    ("steps", lambda: api.resolve_lines(CUP, [(390, 1.0)])),  # type: ignore[list-item]
    ("line_ml", lambda: api.fill_to_line(CUP, [], density=1, line_ml=506)),
    ("line_mm", lambda: api.fill_to_line(CUP, [], density=1, line_mm=114.1)),
    ("line_mm", lambda: api.ToLine(1, line_mm=-1)),
    ("line_ml", lambda: api.ToLine(1, line_ml=nan)),
    ("line_ml", lambda: api.Tolerance.of_line(CUP, 506, 1)),
    ("ice_c", lambda: api.chill(**CHILL, ice_c=1)),
    ("liquid_c", lambda: api.chill(**{**CHILL, "liquid_c": -1})),
    ("ice_g", lambda: api.chill(**{**CHILL, "ice_g": -1})),
    ("size", lambda: api.Tolerance(-1)),
    ("level", lambda: api.build_spread(CUP, [], [], level="lid")),  # type: ignore[arg-type]
    ("verdict", lambda: api.hold_back(CUP, [PEARLS], 0, verdict="lid")),  # type: ignore[arg-type]
    ("tea.mass_g", lambda: api.BatchIngredient("tea", -1, 1)),
    ("tea.pack_g", lambda: api.BatchIngredient("tea", 1, 1, 0)),
    ("portion_ml", lambda: api.batch_yield([PART], portion_ml=0)),
    ("rule_days", lambda: api.discard_date(PREPARED, 0)),
    ("rule_days", lambda: api.discard_date(PREPARED, 10**7)),
    ("use_by", lambda: api.discard_date(PREPARED, 3, [date(2024, 1, 1)])),
    ("use_by", lambda: api.discard_date(PREPARED, 3, ["2024-01-03"])),  # type: ignore[list-item]
    ("prepared", lambda: api.discard_date("2024-01-02", 3)),  # type: ignore[arg-type]
    ("mass_g", lambda: api.SugarPart(-1, 5)),
    ("pack_quantity", lambda: api.CostLine(1, 0, 1)),
    ("used", lambda: api.CostLine(-1, 1, 1)),
    ("pack_price", lambda: api.CostLine(1, 1, inf)),
    ("price", lambda: api.without_tax(-1, 0.1)),
    ("tax", lambda: api.without_tax(1, -0.1)),
]
PEARLS = api.Bed(40, 1.10, 0.66)


@pytest.mark.parametrize(("name", "ask"), REFUSED)
def test_what_is_refused_names_its_input(name: str, ask: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match=r".") as refused:
        ask()
    assert isinstance(refused.value, api.FigureError)
    assert refused.value.input_name == name


def test_what_is_legal_at_the_edge_is_not_refused() -> None:
    assert CUP.working_ml(headspace_mm=0) == CUP.brimful_ml
    assert CUP.working_ml(headspace_mm=114) == 0
    nothing = [api.Liquid(0, 1), api.Bed(0, 2, 1), api.Ice(0), api.Cap(0, 1, 0), api.Dusted()]
    assert api.states_after_each_step(CUP, nothing, 0)[-1].fits
    assert api.fill_to_line(CUP, [], density=1, line_mm=114).poured_ml == CUP.brimful_ml
    assert api.fill_to_line(CUP, [], density=1, line_ml=0).poured_ml == 0
    assert api.frustum(90, 80, 1).brimful_ml > 0
    assert api.chill(liquid_g=0, liquid_density=1, liquid_c=0, ice_g=0).melted_g == 0
    assert api.packs_needed([PART], 0)[0].packs == 0
    assert api.cost([]) == 0


def test_whole_and_borrowed_numbers_count_as_numbers() -> None:
    whole = api.frustum(np.int64(58), 91, np.float64(114))
    assert whole == CUP
    assert api.Liquid(Fraction(1, 2), 1).volume_ml == 0.5  # type: ignore[arg-type]
    assert api.discard_date(PREPARED, np.int64(2)) == date(2024, 1, 3)
    assert isclose(api.Ice(np.int64(100)).mass_g, 100)


def test_line_steps_before_a_line_are_poured_first() -> None:
    steps: list[api.Step] = [api.Ice(100), api.ToLine(1.0, 200)]
    twice = api.fill_to_line(CUP, steps, density=1.0, line_ml=300)
    once = api.fill_to_line(CUP, [api.Ice(100)], density=1.0, line_ml=300)
    assert twice.state.liquid_ml == pytest.approx(once.poured_ml)
