"""Pens and relative paths in; one small SVG picture of a card's rules, marks and drawings out."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple


@dataclass(frozen=True, slots=True)
class Pen:
    """How a path is drawn: fill colour, stroke colour, stroke width in mm, and line ends."""

    fill: str = "none"
    stroke: str = ""
    width_mm: float = 0.0
    cap: str = "butt"

    def attributes(self) -> str:
        """As SVG attributes."""
        if not self.stroke:
            return f'fill="{self.fill}"'
        return (
            f'fill="{self.fill}" stroke="{self.stroke}" stroke-width="{self.width_mm:g}" '
            f'stroke-linecap="{self.cap}" stroke-linejoin="round"'
        )


class Shape(NamedTuple):
    """A path from a point in mm on; ``d`` has relative commands only, so that it can be moved.

    ``layer`` 0 lies under everything else, 2 over it.
    """

    pen: Pen
    x_mm: float
    y_mm: float
    d: str
    layer: int = 1

    def moved(self, dx_mm: float, dy_mm: float) -> Shape:
        """The same shape elsewhere."""
        # Written out: ``replace`` takes four times as long, and every block is moved.
        return Shape(self.pen, self.x_mm + dx_mm, self.y_mm + dy_mm, self.d, self.layer)


def number(value: float) -> str:
    """A length with the three decimals that matter in print, without trailing zeros."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("", "-0") else text


def polygon(
    pen: Pen, points: Sequence[tuple[float, float]], *, closed: bool = True, layer: int = 1
) -> Shape:
    """A shape through points given in mm."""
    steps = [f"l{number(x1 - x0)} {number(y1 - y0)}" for (x0, y0), (x1, y1) in pairwise(points)]
    return Shape(pen, *points[0], "".join(steps) + ("z" if closed else ""), layer)


def dot(colour: str, x_mm: float, y_mm: float, diameter_mm: float, layer: int = 1) -> Shape:
    """A filled circle, drawn as a point with a round pen: the cheapest form for the PDF engine."""
    return Shape(Pen(stroke=colour, width_mm=diameter_mm, cap="round"), x_mm, y_mm, "h.01", layer)


def box(
    pen: Pen, x_mm: float, y_mm: float, width_mm: float, height_mm: float,
    radius_mm: float = 0.0, layer: int = 1,
) -> Shape:  # fmt: skip
    """A rectangle, its corners rounded by ``radius_mm``."""
    r = radius_mm
    w, h = number(width_mm - 2 * r), number(height_mm - 2 * r)
    if not r:
        return Shape(pen, x_mm, y_mm, f"h{w}v{h}h-{w}z", layer)
    c = number(r)
    d = f"h{w}q{c} 0 {c} {c}v{h}q0 {c} -{c} {c}h-{w}q-{c} 0 -{c} -{c}v-{h}q0 -{c} {c} -{c}z"
    return Shape(pen, x_mm + r, y_mm, d, layer)


def svg(shapes: Iterable[Shape], width_mm: float, height_mm: float) -> str:
    """All shapes, one path a pen and layer: the engine's cost goes by elements, not by length."""
    paths: dict[tuple[int, Pen], list[str]] = {}
    for shape in shapes:
        start = f"M{number(shape.x_mm)} {number(shape.y_mm)}"
        paths.setdefault((shape.layer, shape.pen), []).append(start + shape.d)
    drawn = "".join(
        f'<path {pen.attributes()} d="{"".join(parts)}"/>'
        for (_, pen), parts in sorted(paths.items(), key=lambda item: item[0][0])
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_mm:g}mm" '
        f'height="{height_mm:g}mm" viewBox="0 0 {width_mm:g} {height_mm:g}">{drawn}</svg>'
    )


def data_uri(picture: str) -> str:
    """An SVG picture as a data address."""
    return "data:image/svg+xml;base64," + base64.b64encode(picture.encode()).decode("ascii")
