"""Invented cups and hypothesis strategies that several tests of the figures share."""

from hypothesis import strategies as st

from buildsheets.cup.cup import Cup, calibration, frustum, profile
from buildsheets.cup.items import Bed, Cap, Dusted, Ice, Liquid

# Invented straight-sided cups by class: base, rim, height in mm.
CLASSES = {250: (50, 77, 82), 350: (55, 84, 94), 500: (58, 91, 114), 700: (63, 96, 138)}


def cup_of_class(size: int) -> Cup:
    return frustum(*CLASSES[size])


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Floats in a range; a trace that no scale could weigh becomes 0."""
    return st.floats(low, high).map(lambda x: x if abs(x) > 1e-12 else max(0.0, low))


frusta = st.one_of(
    st.builds(frustum, numbers(0, 150), numbers(5, 150), numbers(10, 300)),
    # near-straight sides, where a naive inverse divides by almost nothing
    st.builds(
        lambda base, taper, height: frustum(base, base + taper, height),
        numbers(20, 150),
        numbers(-1e-6, 1e-6),
        numbers(10, 300),
    ),
)


@st.composite
def profiles(draw: st.DrawFn) -> Cup:
    steps = draw(st.lists(st.sampled_from([0.0, 0.0, 5.0, 20.0, 60.0]), min_size=1, max_size=5))
    heights = [0.0]
    for step in [*steps, draw(numbers(5, 60))]:
        heights.append(heights[-1] + step)
    return profile([(height, draw(numbers(5, 120))) for height in heights])


@st.composite
def calibrations(draw: st.DrawFn) -> Cup:
    rows, height, volume = [], 0.0, 0.0
    for _ in range(draw(st.integers(1, 8))):
        height += draw(numbers(1, 60))
        volume += draw(numbers(1, 300))
        rows.append((height, volume))
    return calibration(rows)


cups = st.one_of(frusta, profiles(), calibrations())

liquids = st.builds(Liquid, numbers(0, 300), numbers(0.8, 1.4))
beds = st.builds(
    lambda mass, density, solid: Bed(mass, density, density * solid),
    numbers(0, 150),
    numbers(0.5, 2),
    numbers(0.1, 0.95),
)
ices = st.builds(Ice, numbers(0, 300), numbers(0.88, 0.93), numbers(0.3, 0.8))
caps = st.builds(Cap, numbers(0, 80), numbers(0.9, 1.1), numbers(0, 250))
items = st.one_of(liquids, beds, ices, caps, st.just(Dusted(2.0)))
contents = st.lists(items, max_size=7)
