"""What an owner weighs on a kitchen scale goes in; the menu's own values come out.

Three measurements are all a shop needs: pour calibration of each cup, grams in the ice scoop,
overrun of the cap (fill model, "What to show to a barista"); one with soda also its head, one
with a blender the air that it takes in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from buildsheets.cup.errors import FigureError, each, non_negative, positive
from buildsheets.menu.tables import ICE_DENSITY_G_ML, WATER_DENSITY_G_ML

LEAST_SCOOPS = 3
"""Below three weighings a spread means nothing; ten are asked for."""
RULER_MM = 1.0
"""What a ruler shows: a floor found wider than the rim by no more is that of a straight cup."""


@dataclass(frozen=True, slots=True)
class Scoop:
    """A scoop weighed several times: mean and sample standard deviation in grams."""

    mean_g: float
    spread_g: float
    weighings: int


def pour_points(
    rows: Sequence[tuple[float, float]], water_g_ml: float = WATER_DENSITY_G_ML
) -> tuple[tuple[float, float], ...]:
    """(height mm, ml) points from (height mm, grams of water poured so far).

    Water at 20 degC weighs 0.9982 g a ml (IAPWS-95). Refuses rows that do not rise in both
    columns.
    """
    points: list[tuple[float, float]] = []
    for height_mm, grams in rows:
        each(positive, water_g_ml=water_g_ml, height_mm=height_mm, grams=grams)
        if points and (height_mm <= points[-1][0] or grams / water_g_ml <= points[-1][1]):
            raise FigureError("rows", (height_mm, grams), "must rise in height and in grams")
        points.append((height_mm, grams / water_g_ml))
    if not points:
        raise FigureError("rows", rows, "must hold at least one height with its grams")
    return tuple(points)


def scoop(weights_g: Sequence[float]) -> Scoop:
    """Mean and spread of a scoop weighed several times; refuses fewer than three weighings."""
    if len(weights_g) < LEAST_SCOOPS:
        raise FigureError("weights_g", len(weights_g), f"at least {LEAST_SCOOPS} weighings")
    for weight in weights_g:
        positive("weights_g", weight)
    return Scoop(fmean(weights_g), stdev(weights_g), len(weights_g))


def packing(ice_g: float, jug_ml: float, ice_g_ml: float = ICE_DENSITY_G_ML) -> float:
    """Solid share of loose ice from the grams that fill a jug level: g / (ml x density).

    Refuses a jug that would hold more than solid ice.
    """
    share = positive("ice_g", ice_g) / (positive("jug_ml", jug_ml) * ice_g_ml)
    if share >= 1.0:
        raise FigureError("ice_g", ice_g, f"is more than {jug_ml:g} ml of solid ice")
    return share


def head_share(poured_ml: float, settled_ml: float, foam_top_ml: Sequence[float]) -> float:
    """Head of a fizzy liquid as a share of what is poured: over ice in a jug with marks, from where
    it stands when the foam has fallen, and where the foam stood at its highest each time.

    The highest of all counts. Refuses foam that stands no higher than what is left of it.
    """
    positive("poured_ml", poured_ml)
    positive("settled_ml", settled_ml)
    highest = max((positive("foam_top_ml", top) for top in foam_top_ml), default=0.0)
    if highest <= settled_ml:
        raise FigureError("foam_top_ml", highest, "must be above where the drink stands after it")
    return (highest - settled_ml) / poured_ml


def blend_air_share(
    liquid_ml: float, liquid_g: float, ice_g: float, jar_ml: float, jar_g: float
) -> float:
    """Air that blending takes in, as a share of liquid and solid ice, from what went into the
    blender and a jar of known ml weighed full of the blended drink.

    Mass stays, so the blended volume is (liquid_g + ice_g) / (jar_g / jar_ml). Ice that melted
    meanwhile hides a little air; 0 where it hides all. Refuses a drink heavier than with all of its
    ice melted.
    """
    given = {"liquid_ml": liquid_ml, "liquid_g": liquid_g, "jar_ml": jar_ml, "jar_g": jar_g}
    each(positive, **given)
    non_negative("ice_g", ice_g)
    blended_ml = (liquid_g + ice_g) * jar_ml / jar_g
    if blended_ml < 0.99 * (liquid_ml + ice_g / WATER_DENSITY_G_ML):
        raise FigureError("jar_g", jar_g, "is more than liquid and melted ice weigh without air")
    return max(0.0, blended_ml / (liquid_ml + ice_g / ICE_DENSITY_G_ML) - 1.0)


def overrun_pct(liquid_g: float, foam_g: float) -> float:
    """Overrun from the same level cup weighed full of liquid and full of foam:
    100 (liquid / foam - 1). Refuses foam heavier than its liquid."""
    if positive("foam_g", foam_g) > positive("liquid_g", liquid_g):
        raise FigureError("foam_g", foam_g, "cannot weigh more than the liquid it is whipped from")
    return 100.0 * (liquid_g / foam_g - 1.0)


def base_mm(rim_mm: float, height_mm: float, brimful_ml: float) -> float:
    """Diameter at the floor of a straight-sided cup that is known by rim, height and brimful.

    Solves V = pi h / 12 (D^2 + D d + d^2), the frustum of a cone, for d; at most the rim, where a
    ruler cannot tell. Refuses a cup that would be wider at the floor, or closed before it.
    """
    for name, value in (("rim_mm", rim_mm), ("height_mm", height_mm), ("brimful_ml", brimful_ml)):
        positive(name, value)
    squares = 12_000.0 * brimful_ml / (math.pi * height_mm)
    under_root = 4.0 * squares - 3.0 * rim_mm**2
    base = (math.sqrt(under_root) - rim_mm) / 2.0 if under_root > 0.0 else 0.0
    if base <= 0.0:
        raise FigureError("brimful_ml", brimful_ml, "is too little for this rim and height")
    if base > rim_mm + RULER_MM:
        raise FigureError("brimful_ml", brimful_ml, "is too much for this rim and height")
    return min(base, rim_mm)
