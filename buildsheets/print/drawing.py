"""Pens and relative paths in; one small SVG picture of them out."""

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
    """A path from a point in mm on; ``d`` has relative commands only. Layer 2 lies over layer 1."""

    pen: Pen
    x_mm: float
    y_mm: float
    d: str
    layer: int = 1


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


def dot(pen_colour: str, x_mm: float, y_mm: float, diameter_mm: float) -> Shape:
    """A filled circle, drawn as a point with a round pen."""
    return Shape(Pen(stroke=pen_colour, width_mm=diameter_mm, cap="round"), x_mm, y_mm, "h.01")


def svg(shapes: Iterable[Shape], width_mm: float, height_mm: float) -> str:
    """All shapes as a data address, one path a pen and layer: cost goes by elements."""
    paths: dict[tuple[int, Pen], list[str]] = {}
    for shape in shapes:
        start = f"M{number(shape.x_mm)} {number(shape.y_mm)}"
        paths.setdefault((shape.layer, shape.pen), []).append(start + shape.d)
    drawn = "".join(
        f'<path {pen.attributes()} d="{"".join(parts)}"/>'
        for (_, pen), parts in sorted(paths.items(), key=lambda item: item[0][0])
    )
    picture = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_mm:g}mm" '
        f'height="{height_mm:g}mm" viewBox="0 0 {width_mm:g} {height_mm:g}">{drawn}</svg>'
    )
    return "data:image/svg+xml;base64," + base64.b64encode(picture.encode()).decode("ascii")


# Forms that tell stations apart without colour, on a square from -1 to 1; no points: a disc.
SHAPES: dict[str, tuple[tuple[float, float], ...]] = {
    "disc": (),
    "square": ((-0.92, -0.92), (0.92, -0.92), (0.92, 0.92), (-0.92, 0.92)),
    # Long and low, or it would pass for the disc in grey and from afar.
    "hexagon": ((-1.2, 0), (-0.64, -0.8), (0.64, -0.8), (1.2, 0), (0.64, 0.8), (-0.64, 0.8)),
    "diamond": ((0, -1.06), (1.06, 0), (0, 1.06), (-1.06, 0)),
    "shield": ((-0.95, -0.95), (0.95, -0.95), (0.95, 0.3), (0, 1.15), (-0.95, 0.3)),
    "house": ((0, -1.12), (0.98, -0.45), (0.98, 0.95), (-0.98, 0.95), (-0.98, -0.45)),
}


def station_shape(shape: str, accent: str) -> str:
    """A station's form filled with its accent, 10 mm wide; it is scaled where it is placed."""
    corners = SHAPES[shape]
    middle, half = 5.0, 4.0
    if not corners:
        return svg([dot(accent, middle, middle, 2 * half)], 10, 10)
    points = [(middle + x * half, middle + y * half) for x, y in corners]
    return svg([polygon(Pen(fill=accent), points)], 10, 10)


def warning_triangle(ink: str, paper: str) -> str:
    """The sign before a caution, 10 mm wide."""
    triangle = polygon(Pen(fill=ink), [(5, 0.6), (9.8, 9.2), (0.2, 9.2)])
    stem = Shape(Pen(stroke=paper, width_mm=1.2), 5, 3.4, "v3.1m0 1v1.2", 2)
    return svg([triangle, stem], 10, 10)


def arrow(ink: str) -> str:
    """A small arrow to the right, 4 mm long."""
    pen = Pen(stroke=ink, width_mm=0.45)
    return svg([Shape(pen, 0.4, 2, "h3m-1.2 -1.2l1.2 1.2l-1.2 1.2")], 4, 4)


def tick_box(ink: str) -> str:
    """An empty box to tick, 4 mm wide."""
    return svg([Shape(Pen(stroke=ink, width_mm=0.35), 0.4, 0.4, "h3.2v3.2h-3.2z")], 4, 4)
