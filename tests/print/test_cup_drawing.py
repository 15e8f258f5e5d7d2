"""The cup drawing: true proportion, bands inside the cup, labels apart."""

from __future__ import annotations

import base64
import re
from dataclasses import replace
from itertools import combinations, pairwise
from typing import get_args

import numpy as np
import pypdfium2
import pytest
from card_samples import CUP
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.menu.components import Drawn
from buildsheets.print.cup_drawing import (
    FORMS,
    LEADER_MM,
    DrawnCup,
    diameter_at,
    drawn_cup,
    names_of,
)
from buildsheets.print.engine import lay_out
from buildsheets.print.layouts import Layouts
from buildsheets.views.types import CupDrawing, DrawnLine, Layer

LABEL_MM = 4.5
INK = "#111111"
Path = tuple[dict[str, str], list[tuple[float, float]]]


def drawn(
    cup: CupDrawing,
    width: float = 36,
    height: float = 60,
    label: float = LABEL_MM,
    text: float = 18,
) -> DrawnCup:
    return drawn_cup(cup, width, height, INK, lambda _: label, lambda _: text)


def paths(cup: DrawnCup) -> list[Path]:
    """Each subpath of the picture with its path's attributes, as points in mm."""
    svg = base64.b64decode(cup.picture.split(",", 1)[1]).decode()
    found: list[Path] = []
    for path in re.findall(r"<path ([^>]*)/>", svg):
        told = dict(re.findall(r'([\w-]+)="([^"]*)"', path))
        for part in told["d"].split("M")[1:]:
            start, *steps = re.findall(r"[lhv]?-?[\d.]+ ?-?[\d.]*", part)
            x, y = (float(one) for one in start.split())
            points = [(x, y)]
            for step in steps:
                numbers = [float(one) for one in re.findall(r"-?[\d.]+", step)]
                if step[0] == "l":
                    x, y = x + numbers[0], y + numbers[1]
                    points.append((x, y))
            found.append((told, points))
    return found


def grey(picture: str) -> np.ndarray:
    """A picture as pixels from black (0) to white."""
    html = f'<html><head><title/></head><body><img src="{picture}"/></body></html>'
    pdf = lay_out(html, "@page { size: 50mm 70mm; margin: 0 }", Layouts()).pdf()
    page = pypdfium2.PdfDocument(pdf)[0]
    return np.asarray(page.render(scale=300 / 72).to_pil().convert("L"))


def extent(points: list[tuple[float, float]]) -> tuple[float, float, float, float]:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), max(xs), min(ys), max(ys)


def wall(cup: DrawnCup) -> tuple[float, float, float, float]:
    (points,) = [p for told, p in paths(cup) if told.get("stroke") == INK and len(p) > 4]
    return extent(points)


def test_diameter_is_straight_between_points() -> None:
    # A frustum 56 to 86 mm wide over 112 mm: halfway it is 71 mm wide.
    assert diameter_at(CUP.outline_mm, 56) == pytest.approx(71)
    assert diameter_at(CUP.outline_mm, -1) == 56
    assert diameter_at(CUP.outline_mm, 500) == 89


def test_widths_and_heights_share_one_scale() -> None:
    cup = drawn(CUP, 40, 200)
    left, right, top, bottom = wall(cup)
    assert (right - left) / (bottom - top) == pytest.approx(89 / (118 + 6), rel=1e-3)
    assert cup.width_mm <= 40 + 1e-9


@given(
    width=st.floats(15, 80),
    height=st.floats(20, 120),
    levels=st.lists(st.floats(0, 118), min_size=8, max_size=8).map(sorted),
)
def test_everything_stays_inside_the_picture(
    width: float, height: float, levels: list[float]
) -> None:
    layers = tuple(
        replace(layer, from_mm=low, to_mm=high)
        for layer, low, high in zip(CUP.layers, levels[::2], levels[1::2], strict=True)
    )
    cup = drawn(replace(CUP, layers=layers, lines=()), width, height, 0.5)
    assert cup.width_mm <= width + 1e-6
    assert cup.height_mm <= height + 1e-6
    for told, points in paths(cup):
        half_pen = float(told.get("stroke-width", 0)) / 2
        left, right, top, bottom = extent(points)
        assert left - half_pen >= -0.01
        assert right + half_pen <= cup.width_mm + 0.13  # a leader's own half stroke
        assert top - half_pen >= -0.51  # the wall's own half stroke at the open rim
        assert bottom + half_pen <= cup.height_mm + 0.01


def test_labels_keep_apart_and_point_at_their_levels() -> None:
    cup = replace(CUP, lines=(*CUP.lines, DrawnLine(110.0, "limit", "working")))
    art = drawn(cup, 30, 44)
    places = [label.label_y_mm for label in art.labels]
    assert all(b - a >= LABEL_MM - 1e-6 for a, b in pairwise(places))
    heights = {label.text: label.target_y_mm for label in art.labels}
    assert [label.text for label in art.labels if label.bold] == ["330 ml"]
    scale = (heights["330 ml"] - heights["limit"]) / 24  # 110 and 86 mm up the cup
    assert heights["Ice"] - heights["330 ml"] == pytest.approx(scale * (86 - 71))


def test_no_name_stands_twice() -> None:
    """The cap is named over the cup, the bed under it, the drink in it; their edges are not."""
    names = names_of(CUP)
    assert (names.above, names.below) == ("Salt cream", "Pearls")
    assert [line.label for line in names.lines] == ["330 ml"]  # not the cap's "430 ml"
    art = drawn(CUP)
    assert art.inside is not None
    assert [label.text for label in art.labels] == ["330 ml", "Ice"]
    # 17 mm of pearls, ice from 54 mm: the name stands in the middle of what is clear.
    left, right, _, bottom = wall(art)
    scale = (right - left) / 89
    assert (bottom - art.inside.target_y_mm) / scale - 6 == pytest.approx((17 + 54) / 2, abs=0.1)
    bare = replace(CUP, layers=CUP.layers[1:2])
    assert [line.label for line in names_of(bare).lines] == ["330 ml", "430 ml"]


def test_a_drinks_name_without_room_inside_stands_beside() -> None:
    art = drawn(CUP, 30, 60, text=29)
    assert art.inside is None
    assert "Milk tea" in [label.text for label in art.labels]


@given(proud=st.floats(3, 30))
def test_ice_stands_out_of_the_drink_as_far_as_it_does(proud: float) -> None:
    """The top row of cubes reaches the top of the ice, to scale with the cup."""
    layers = (Layer("liquid", 0, 80, "Tea", "plain"), Layer("ice", 40, 80 + proud, "Ice", "ice"))
    art = drawn(replace(CUP, layers=layers, lines=()), 36, 80)
    left, right, _, _ = wall(art)
    scale = (right - left) / 89
    found = paths(art)
    top = min(
        points[0][1] - float(told["stroke-width"]) / 2
        for told, points in found
        if told.get("stroke-linecap") == "square"
    )
    (liquid,) = [points for told, points in found if told["fill"] == "#d9d9d9"]
    assert extent(liquid)[2] - top == pytest.approx(proud * scale, abs=0.01)


def test_labels_that_need_more_room_than_the_cup_make_the_picture_higher() -> None:
    art = drawn(CUP, 30, 12, 5)
    places = [label.label_y_mm for label in art.labels]
    assert art.height_mm == pytest.approx(5 * len(places))
    assert art.height_mm > 12
    assert all(b - a >= 5 - 1e-6 for a, b in pairwise(places))
    assert (art.below, [label.text for label in art.labels][-1]) == ("", "Pearls")


@given(small=st.floats(40, 118), wide=st.floats(60, 89))
def test_all_cups_of_a_shop_are_drawn_at_one_scale(small: float, wide: float) -> None:
    room = (100.0, 150.0)
    bare = replace(CUP, layers=(), lines=(), room_mm=room)
    low = replace(bare, outline_mm=((0, 50), (small, wide)), rim_mm=small)
    for cup, high, across in ((bare, 118, 89), (low, small, wide)):
        art = drawn(cup, 36, 60)
        left, right, top, bottom = wall(art)
        assert (art.width_mm, (left + right) / 2) == pytest.approx((36, (36 - LEADER_MM) / 2))
        assert (right - left) / across == pytest.approx((bottom - top) / (high + 6), rel=1e-3)
        assert (right - left) / across == pytest.approx((36 - LEADER_MM - 1) / 100, rel=1e-3)


def test_the_largest_liquid_is_named_inside_the_others_beside() -> None:
    layers = (
        Layer("liquid", 0, 8, "Syrup", "plain", 0),
        Layer("liquid", 8, 60, "Milk", "plain", 1),
        Layer("liquid", 60, 70, "Tea", "plain", 2),
    )
    art = drawn(replace(CUP, layers=layers, lines=()))
    assert art.inside is not None
    assert art.inside.text == "Milk"
    assert [label.text for label in art.labels] == ["Tea", "Syrup"]
    fills = [told["fill"] for told, _ in paths(art) if told["fill"] != "none"]
    # The heaviest is the darkest, and the topmost of several is as light wherever it stands.
    assert fills == sorted(fills)
    assert (fills[0], fills[-1]) == ("#a8a8a8", "#eeeeee")


def bed(pattern: str, variant: int = 0, high: float = 40) -> str:
    layer = Layer("bed", 0, high, "Topping", pattern, variant)
    return drawn(replace(CUP, layers=(layer,), lines=())).picture


def test_every_form_and_variant_of_a_topping_is_drawn_in_its_own_way() -> None:
    assert set(FORMS) == set(get_args(Drawn))
    assert len({bed(form, variant) for form in FORMS for variant in range(4)}) == 4 * len(FORMS)


def test_toppings_are_told_apart_in_grey_at_arms_length() -> None:
    """At 300 dpi any two beds differ, by a quarter of the way from black to white or more, in at
    least a tenth of what is drawn."""
    beds = {form: grey(bed(form)) for form in FORMS}
    for (one, a), (other, b) in combinations(beds.items(), 2):
        unlike = np.abs(a.astype(int) - b) > 64
        assert unlike.sum() > 0.1 * (np.minimum(a, b) < 245).sum(), (one, other)


@pytest.mark.parametrize("form", FORMS)
def test_a_bed_lower_than_its_pieces_still_has_some(form: str) -> None:
    assert len(bed(form, high=4)) > len(bed(form, high=0.1))


def test_dust_is_named_over_the_cup_with_the_cap() -> None:
    dusted = replace(CUP, layers=(*CUP.layers, Layer("dusted", 106, 106, "Cocoa", "dust")))
    assert names_of(dusted).above == "Cocoa · Salt cream"


def test_neighbouring_layers_differ_in_grey_and_in_pattern() -> None:
    """What tells layers apart in a grey print is form as well as shade."""
    told = [one for one, _ in paths(drawn(CUP, 40, 60, 3))]
    dots = {
        (one["stroke-linecap"], one["stroke-width"])
        for one in told
        if one.get("stroke-linecap", "butt") != "butt"
    }
    assert len(dots) == 4  # pearls, two strokes of an ice cube, cream
    assert {one["fill"] for one in told if "stroke" not in one} == {"#d9d9d9", "#efe9dc"}


def test_a_dome_is_drawn_over_the_rim_to_the_same_scale_with_its_hole_open() -> None:
    rim_mm, width_mm = CUP.outline_mm[-1]
    dome = ((rim_mm, width_mm), (rim_mm + 20.0, 0.8 * width_mm), (rim_mm + 30.0, 10.0))
    cup = drawn(replace(CUP, dome_mm=dome))
    sides = [p for told, p in paths(cup) if told.get("stroke") == INK and len(p) == 3]
    assert len(sides) == 2
    left, right, top, bottom = extent([point for side in sides for point in side])
    scale = (right - left) / width_mm
    assert bottom - top == pytest.approx(30.0 * scale, abs=0.05)
    ends = sorted(side[-1][0] for side in sides)
    assert ends[1] - ends[0] == pytest.approx(10.0 * scale, abs=0.05)
    assert top >= -0.01


def test_pieces_that_swim_and_slices_on_the_wall_stand_where_they_are() -> None:
    pieces = Layer("pieces", 70.0, 84.0, "Berries", "beans")
    slices = Layer("wall", 10.0, 70.0, "Lime", "beads")
    drink = Layer("liquid", 0.0, 74.0, "Tea", "plain")
    cup = replace(CUP, layers=(drink, pieces, slices), lines=())
    plain = replace(cup, layers=(drink,))
    added = {str(p) for _, p in paths(drawn(cup))} - {str(p) for _, p in paths(drawn(plain))}
    assert len(added) > 8
    picture = drawn(cup)
    assert {label.text for label in picture.labels} >= {"Berries", "Lime"}
    # The drink's name keeps clear of the slices: it fits without them, beside them it does not.
    wide = 0.82 * 36 * 58 / 91
    assert drawn(plain, text=wide).inside is not None
    assert drawn(cup, text=wide).inside is None
