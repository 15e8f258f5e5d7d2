"""The cup drawing: true proportion, bands inside the cup, labels apart."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import pytest
from buildsheets.print.art import Shape, svg
from card_samples import CUP
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.print.drawing import cup_art, diameter_at, names_of
from buildsheets.views.types import CupDrawing, DrawnLine, Layer


def extent(shape: Shape) -> tuple[float, float, float, float]:
    """Least and greatest x and y of a polygon's points."""
    xs, ys = [shape.x_mm], [shape.y_mm]
    for dx, dy in re.findall(r"l(-?[\d.]+) (-?[\d.]+)", shape.d):
        xs.append(xs[-1] + float(dx))
        ys.append(ys[-1] + float(dy))
    return min(xs), max(xs), min(ys), max(ys)


def test_diameter_is_straight_between_points() -> None:
    # A frustum 56 to 86 mm wide over 112 mm: halfway it is 71 mm wide.
    assert diameter_at(CUP.outline_mm, 56) == pytest.approx(71)
    assert diameter_at(CUP.outline_mm, -1) == 56
    assert diameter_at(CUP.outline_mm, 500) == 89


def test_widths_and_heights_share_one_scale() -> None:
    art = cup_art(CUP, 40, 200, "#111111", 1)
    wall = art.shapes[[s.pen.stroke for s in art.shapes].index("#111111")]
    left, right, top, bottom = extent(wall)
    assert (right - left) / (bottom - top) == pytest.approx(89 / (118 + 6), rel=1e-3)
    assert art.width_mm <= 40 + 1e-9


@given(
    width=st.floats(10, 80),
    height=st.floats(20, 120),
    levels=st.lists(st.floats(0, 118), min_size=8, max_size=8).map(sorted),
)
def test_bands_stay_inside_the_cup(width: float, height: float, levels: list[float]) -> None:
    layers = tuple(
        replace(layer, from_mm=low, to_mm=high)
        for layer, low, high in zip(CUP.layers, levels[::2], levels[1::2], strict=True)
    )
    cup: CupDrawing = replace(CUP, layers=layers, lines=())
    art = cup_art(cup, width, height, "#111111", 0.5)
    assert art.width_mm <= width + 1e-6
    assert art.height_mm <= height + 1e-6
    for shape in art.shapes:
        half_pen = shape.pen.width_mm / 2
        left, right, top, bottom = extent(shape)
        assert left - half_pen >= -0.01
        assert right + half_pen <= art.width_mm + 0.01
        assert top - half_pen >= -0.51  # the wall's own half stroke at the open rim
        assert bottom + half_pen <= art.height_mm + 0.01


def test_labels_keep_apart_and_point_at_their_levels() -> None:
    cup = replace(CUP, lines=(*CUP.lines, DrawnLine(110.0, "limit", "working")))
    art = cup_art(cup, 30, 44, "#111111", 4.5)
    places = [label.label_y_mm for label in art.labels]
    assert all(b - a >= 4.5 - 1e-6 for a, b in pairwise(places))
    heights = {label.text: label.target_y_mm for label in art.labels}
    assert [label.text for label in art.labels if label.bold] == ["330 ml"]
    scale = (heights["330 ml"] - heights["limit"]) / 24  # 110 and 86 mm up the cup
    assert heights["Ice"] - heights["330 ml"] == pytest.approx(scale * (86 - 71))


def test_no_name_stands_twice() -> None:
    """The cap is named over the cup, the bed under it, the drink in it; their edges are not."""
    names = names_of(CUP)
    assert (names.above, names.below) == ("Salt cream", "Pearls")
    assert [line.label for line in names.lines] == ["330 ml"]  # not the cap's "430 ml"
    art = cup_art(CUP, 36, 60, "#111111", 4.5, 18.0)
    assert art.inside is not None
    assert [label.text for label in art.labels] == ["330 ml", "Ice"]
    # 17 mm of pearls, ice from 54 mm: the name stands in the middle of what is clear.
    floor, wall = art.height_mm - 0.5, art.width_mm - 1.0
    assert (floor - art.inside.target_y_mm) / (wall / 89) - 6 == pytest.approx((17 + 54) / 2)
    bare = replace(CUP, layers=CUP.layers[1:2])
    assert [line.label for line in names_of(bare).lines] == ["330 ml", "430 ml"]


def test_a_drinks_name_without_room_inside_stands_beside() -> None:
    art = cup_art(CUP, 30, 60, "#111111", 4.5, 29.0)
    assert art.inside is None
    assert "Milk tea" in [label.text for label in art.labels]


@given(proud=st.floats(3, 30))
def test_ice_stands_out_of_the_drink_as_far_as_it_does(proud: float) -> None:
    """The top row of cubes reaches the top of the ice, to scale with the cup."""
    layers = (Layer("liquid", 0, 80, "Tea", "plain"), Layer("ice", 40, 80 + proud, "Ice", "cubes"))
    art = cup_art(replace(CUP, layers=layers, lines=()), 36, 80, "#111111", 4.5)
    scale = (art.width_mm - 1.0) / 89
    cubes = [shape for shape in art.shapes if shape.pen.cap == "square"]
    top = min(shape.y_mm - shape.pen.width_mm / 2 for shape in cubes)
    (liquid,) = [shape for shape in art.shapes if shape.pen.fill == "#d9d9d9"]
    level = extent(liquid)[2]
    assert level - top == pytest.approx(proud * scale, abs=0.01)


def test_crowded_labels_are_refused() -> None:
    with pytest.raises(ValueError, match="do not fit"):
        cup_art(CUP, 30, 8, "#111111", 5)


def test_neighbouring_layers_differ_in_grey_and_in_pattern() -> None:
    """What tells layers apart in a grey print is form as well as shade."""
    pens = [shape.pen for shape in cup_art(CUP, 40, 60, "#111111", 3).shapes]
    dots = {(pen.cap, pen.width_mm) for pen in pens if pen.cap != "butt"}
    assert len(dots) == 4  # pearls, two strokes of an ice cube, cream
    fills = {pen.fill for pen in pens if not pen.stroke}
    assert len(fills) == 3


def test_one_element_a_pen_keeps_the_picture_small() -> None:
    picture = svg(cup_art(CUP, 40, 60, "#111111", 3).shapes, 40, 60)
    assert picture.count("<path") <= 12
    assert 'width="40mm"' in picture
