"""Shapes in mm in; the operators that draw them on a PDF page out (ISO 32000-1, 8.5)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

from buildsheets.cards.art import Pen, Shape, grouped
from buildsheets.cards.fonts import MM_PER_PT

_CAPS = {"butt": 0, "round": 1, "square": 2}
_COMMAND = re.compile(r"([a-z])([^a-z]*)")
_NUMBER = re.compile(r"-?(?:\d+\.?\d*|\.\d+)")
_TAKES = {"m": 2, "l": 2, "h": 1, "v": 1, "q": 4, "t": 2, "a": 7}  # numbers a command takes
_ARC = 0.5522847498  # of the radius: control points of the Bezier nearest to a quarter circle

Step = tuple[str, tuple[float, ...]]


def colour(hex_colour: str, operator: str) -> str:
    """A colour #rrggbb, set for filling (rg) or drawing lines (RG)."""
    shares = (int(hex_colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return " ".join(f"{share:.4g}" for share in shares) + f" {operator}\n"


def strokes(shapes: Iterable[Shape], height_mm: float) -> str:
    """All shapes on a page of a height, one path a pen and layer, in the order of ``art.svg``."""
    scale = 1 / MM_PER_PT
    paths = "".join(_path(pen, parts) for pen, parts in grouped(shapes))
    frame = f"q\n{scale:.6f} 0 0 {-scale:.6f} 0 {height_mm * scale:.4f} cm\n1 j\n"
    return f"{frame}{paths}Q\n" if paths else ""


def _path(pen: Pen, parts: Sequence[Shape]) -> str:
    filled, drawn = pen.fill != "none", bool(pen.stroke)
    if not (filled or drawn):
        return ""
    said = colour(pen.fill, "rg") if filled else ""
    if drawn:
        said += colour(pen.stroke, "RG") + f"{pen.width_mm:g} w {_CAPS[pen.cap]} J\n"
    lines = "".join(_placed(part) for part in parts)
    return said + lines + ("B" if filled and drawn else "f" if filled else "S") + "\n"


def _placed(shape: Shape) -> str:
    x, y = shape.x_mm, shape.y_mm
    said = [f"{x:.3f} {y:.3f} m\n"]
    for operator, numbers in _steps(shape.d):
        at = zip(numbers[::2], numbers[1::2], strict=True)
        said.append("".join(f"{x + dx:.3f} {y + dy:.3f} " for dx, dy in at) + operator + "\n")
    return "".join(said)


@lru_cache(maxsize=4096)
def _steps(d: str) -> tuple[Step, ...]:
    """A path of relative SVG commands as PDF operators, counted from where it starts."""
    return tuple(_walk(d))


def _walk(d: str) -> Iterator[Step]:
    x = y = start_x = start_y = 0.0
    bend: tuple[float, float] | None = None  # the control point a "t" mirrors
    for name, rest in _COMMAND.findall(d):
        if name == "z":
            x, y, bend = start_x, start_y, None
            yield "h", ()
            continue
        numbers, takes = [float(n) for n in _NUMBER.findall(rest)], _TAKES[name]
        for at in range(0, len(numbers), takes):
            given = numbers[at : at + takes]
            dx, dy = {"h": (given[0], 0.0), "v": (0.0, given[0])}.get(name, tuple(given[-2:]))
            to_x, to_y = x + dx, y + dy
            if name in "qt":
                if name == "q":
                    bend = (x + given[0], y + given[1])
                else:
                    bend = (2 * x - bend[0], 2 * y - bend[1]) if bend else (x, y)
                yield "c", _cubic((x, y), bend, (to_x, to_y))
            elif name == "a":
                yield from _half_circle(x, y, dx / 2)
            elif name == "m":
                start_x, start_y = to_x, to_y
                yield "m", (to_x, to_y)
            else:
                yield "l", (to_x, to_y)
            x, y = to_x, to_y
            bend = bend if name in "qt" else None


def _cubic(
    start: tuple[float, float], bend: tuple[float, float], end: tuple[float, float]
) -> tuple[float, ...]:
    """A quadratic curve raised to a cubic one."""
    first = (s + (b - s) * 2 / 3 for s, b in zip(start, bend, strict=True))
    second = (e + (b - e) * 2 / 3 for e, b in zip(end, bend, strict=True))
    return (*first, *second, *end)


def _half_circle(x: float, y: float, r: float) -> Iterator[Step]:
    """Half a circle from a point to the one level with it, as two Bezier curves: the only arcs
    drawn on cards are such halves, clockwise."""
    k = _ARC * r
    yield "c", (x, y - k, x + r - k, y - r, x + r, y - r)
    yield "c", (x + r + k, y - r, x + 2 * r, y - k, x + 2 * r, y)
