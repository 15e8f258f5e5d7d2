"""Weighings typed on the command line go in; lines to paste into the menu come out."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from buildsheets.cup.measuring import (
    base_mm,
    blend_air_share,
    head_share,
    overrun_pct,
    packing,
    pour_points,
    scoop,
)
from buildsheets.menu.quantity import parse_quantity

_PAIR = re.compile(r"\s*([\d.]+)\s*(?:mm)?\s*=\s*([\d.]+)\s*g?\s*")
_NUMBER = re.compile(r"\s*([\d.]+)\s*(?:g|ml)?\s*")


def measure_cup(pairs: Sequence[str]) -> str:
    """``20mm=45g 40mm=102g …``: water poured so far at each height, as a calibration."""
    rows = []
    for text in pairs:
        match = _PAIR.fullmatch(text)
        if match is None:
            raise ValueError(f"'{text}' is not a height with its grams; write 20mm=45g")
        rows.append((number(match[1]), number(match[2])))
    points = (f"  - {{height: {mm:g} mm, volume: {ml:.1f} ml}}" for mm, ml in pour_points(rows))
    return "\n".join(["calibration:", *points])


def measure_scoop(weights: Sequence[str]) -> str:
    """``61 58 63 …``: level scoops weighed one by one, as a tool's holds and tolerance."""
    found = scoop([_one(text) for text in weights])
    few = "" if found.weighings >= 10 else f"  # from {found.weighings} weighings; ten are better"
    return (
        f"holds: {found.mean_g:.0f} g\n"
        f"tolerance: {max(found.spread_g, 0.1):.1f} g{few}\n"
        "tolerance_kind: std"
    )


def measure_ice(weights: Sequence[str]) -> str:
    """Grams of ice that fill a jug level, and the jug's ml, as the ice's packing."""
    ice, jug = weights
    return f"packing: {100.0 * packing(_one(ice), _one(jug)):.0f} %"


def measure_cap(weights: Sequence[str]) -> str:
    """The same level cup full of liquid and full of foam, in grams, as the batch's overrun."""
    liquid, foam = weights
    return f"overrun: {overrun_pct(_one(liquid), _one(foam)):.0f} %"


def measure_box(figures: Sequence[str]) -> str:
    """Rim, height and brimful capacity as a cup's box tells them, as the cup's inside."""
    rim, height, brimful = figures
    rim_mm, height_mm = (parse_quantity(text, kinds=("length",)).value for text in (rim, height))
    brimful_ml = parse_quantity(brimful, kinds=("volume",)).value
    base = base_mm(rim_mm, height_mm, brimful_ml)
    return (
        f"base: {base:.1f} mm   # worked out from the other three\n"
        f"rim: {rim_mm:.4g} mm\n"
        f"height: {height_mm:.4g} mm\n"
        f"brimful: {brimful_ml:.4g} ml"
    )


def measure_head(values: Sequence[str]) -> str:
    """ml of soda poured over ice into a jug with marks, where it stands after the foam, and the
    highest foam each time, as the soda's head."""
    if len(values) < 3:
        raise ValueError("write the ml poured, where it stands after the foam, and the foam's tops")
    poured, settled, *tops = map(_one, values)
    few = "" if len(tops) >= 5 else "  # of few pours; five are better"
    return f"head: {math.ceil(100.0 * head_share(poured, settled, tops) - 1e-9):.0f} %{few}"


def measure_blend(figures: Sequence[str]) -> str:
    """ml and g of the liquid, g of the ice, ml of a jar and g of the blended drink that fills it,
    as the blend's air."""
    liquid_ml, liquid_g, ice_g, jar_ml, jar_g = map(_one, figures)
    share = blend_air_share(liquid_ml, liquid_g, ice_g, jar_ml, jar_g)
    return f"air: {math.ceil(100.0 * share - 1e-9):.0f} %"


MEASURES = {
    "cup": measure_cup,
    "box": measure_box,
    "scoop": measure_scoop,
    "ice": measure_ice,
    "cap": measure_cap,
    "head": measure_head,
    "blend": measure_blend,
}
"""What is measured, by its name on the command line."""


def _one(text: str) -> float:
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise ValueError(f"'{text}' is not a weight; write 61 or 61g")
    return number(match[1])


def number(text: str) -> float:
    """A number as typed; raises ``ValueError`` with words for the reader."""
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"'{text}' is not a number") from None
