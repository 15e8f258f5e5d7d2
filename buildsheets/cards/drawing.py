"""A cup with its layers in; an SVG drawing in true proportion and places for its labels out."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from buildsheets.cards.gauge import spread
from buildsheets.cards.views import CupDrawing, Layer

# Fill and ink of each pattern: far enough apart in grey that neighbours are told apart when the
# marks on them blur. The same layer kind keeps its look on every card.
_FILL = {
    "plain": ("#d9d9d9", ""),
    "wave": ("#c4c4c4", "#7d7d7d"),
    "dots": ("#f2f2f2", "#1c1c1c"),
    "grain": ("#efe9dc", "#4a4a4a"),
    "cubes": ("", "#5a5a5a"),
    "hatch": ("#ffffff", "#8c8c8c"),
}


@dataclass(frozen=True, slots=True)
class PlacedLabel:
    """A label beside the cup: what its leader points at, and where its middle goes, in mm."""

    text: str
    bold: bool
    target_x_mm: float
    target_y_mm: float
    label_y_mm: float


@dataclass(frozen=True, slots=True)
class CupArt:
    """The drawing's SVG in mm from its own top left corner, its size, and its labels."""

    svg: str
    width_mm: float
    height_mm: float
    labels: tuple[PlacedLabel, ...]


def diameter_at(outline_mm: Sequence[tuple[float, float]], height_mm: float) -> float:
    """Inner diameter at a height above the inner floor, straight between the outline's points."""
    heights = [height for height, _ in outline_mm]
    if height_mm <= heights[0]:
        return outline_mm[0][1]
    if height_mm >= heights[-1]:
        return outline_mm[-1][1]
    upper = bisect_right(heights, height_mm)
    (h0, d0), (h1, d1) = outline_mm[upper - 1], outline_mm[upper]
    return d0 + (d1 - d0) * (height_mm - h0) / (h1 - h0)


class _Frame:
    """Cup millimetres to drawing millimetres, y downwards, the axis in the middle."""

    def __init__(self, cup: CupDrawing, width_mm: float, height_mm: float) -> None:
        top = max(cup.rim_mm, *(layer.to_mm for layer in cup.layers), 0.0)
        wide = max(diameter for _, diameter in cup.outline_mm)
        self.outline = cup.outline_mm
        self.wall = 0.5
        self.scale = min(
            (width_mm - 2 * self.wall) / wide, (height_mm - 2 * self.wall) / (top + cup.floor_mm)
        )
        self.width = wide * self.scale + 2 * self.wall
        self.height = (top + cup.floor_mm) * self.scale + 2 * self.wall
        self.top = top
        self.middle = self.width / 2

    def y(self, height_mm: float) -> float:
        return self.wall + (self.top - height_mm) * self.scale

    def half(self, height_mm: float) -> float:
        return diameter_at(self.outline, height_mm) * self.scale / 2

    def sides(self, low: float, high: float) -> str:
        """A closed path around the cup's inside between two heights."""
        inner = [h for h, _ in self.outline if low < h < high]
        points = [low, *inner, high]
        right = [f"{self.middle + self.half(h):.2f} {self.y(h):.2f}" for h in points]
        left = [f"{self.middle - self.half(h):.2f} {self.y(h):.2f}" for h in reversed(points)]
        return f"M{'L'.join(right)}L{'L'.join(left)}Z"


def cup_art(
    cup: CupDrawing, width_mm: float, height_mm: float, ink: str, label_pitch_mm: float,
    label_height_mm: float | None = None,
) -> CupArt:  # fmt: skip
    """Draw ``cup`` as large as the room allows, true in proportion, and place its labels.

    Labels stand ``label_pitch_mm`` apart within ``label_height_mm`` (default: the drawing's
    height). Raises ``ValueError`` when they cannot.
    """
    frame = _Frame(cup, width_mm, height_mm)
    parts: list[str] = []
    for layer in cup.layers:
        parts.append(_layer(frame, layer))
    walls = "L".join(
        f"{frame.middle + frame.half(h):.2f} {frame.y(h):.2f}" for h, _ in reversed(cup.outline_mm)
    )
    mirrored = "L".join(
        f"{frame.middle - frame.half(h):.2f} {frame.y(h):.2f}" for h, _ in cup.outline_mm
    )
    foot = frame.y(-cup.floor_mm)
    base = frame.half(cup.outline_mm[0][0])
    parts.append(
        f'<path d="M{walls}L{frame.middle + base:.2f} {foot:.2f}H{frame.middle - base:.2f}'
        f'L{mirrored}" '
        f'stroke="{ink}" stroke-width="{frame.wall}" stroke-linejoin="round" fill="none"/>'
    )
    marks = "".join(
        f"M{frame.middle + frame.half(line.height_mm) - 3.2:.2f} {frame.y(line.height_mm):.2f}h4"
        for line in cup.lines
    )
    if marks:
        parts.append(f'<path d="{marks}" stroke="{ink}" stroke-width="0.6" fill="none"/>')
    labels = _labels(cup, frame, label_pitch_mm, label_height_mm or frame.height)
    return CupArt("".join(parts), frame.width, frame.height, labels)


def _labels(cup: CupDrawing, frame: _Frame, pitch: float, height: float) -> tuple[PlacedLabel, ...]:
    wanted: list[tuple[float, float, str, bool]] = []
    for layer in cup.layers:
        middle = (layer.from_mm + layer.to_mm) / 2
        edge = frame.middle + frame.half(middle) * 0.72
        wanted.append((frame.y(middle), edge, layer.name, False))
    for line in cup.lines:
        edge = frame.middle + frame.half(line.height_mm) + 0.8
        wanted.append((frame.y(line.height_mm), edge, line.label, True))
    wanted.sort()
    if not wanted:
        return ()
    extra = max(0.0, height - frame.height) / 2
    places = spread(
        [w[0] for w in wanted], pitch, pitch / 2 - extra, frame.height + extra - pitch / 2
    )
    return tuple(
        PlacedLabel(text, bold, x, y, place)
        for (y, x, text, bold), place in zip(wanted, places, strict=True)
    )


def _layer(frame: _Frame, layer: Layer) -> str:
    """One band: its filled shape and one path of marks that lie inside the cup."""
    fill, ink = _FILL.get(layer.pattern, _FILL["plain"])
    shape = f'<path d="{frame.sides(layer.from_mm, layer.to_mm)}" fill="{fill}"/>' if fill else ""
    marks = _marks(frame, layer)
    if not marks or not ink:
        return shape
    if layer.pattern in ("dots", "grain"):
        return f'{shape}<path d="{marks}" fill="{ink}"/>'
    inside = "#ffffff" if layer.pattern == "cubes" else "none"
    return f'{shape}<path d="{marks}" stroke="{ink}" stroke-width="0.3" fill="{inside}"/>'


def _marks(frame: _Frame, layer: Layer) -> str:
    top, bottom = frame.y(layer.to_mm), frame.y(layer.from_mm)
    size, step = {
        "dots": (0.95, 2.3),
        "grain": (0.28, 1.1),
        "cubes": (1.5, 4.2),
        "wave": (0.0, 2.4),
        "hatch": (0.0, 1.6),
    }.get(layer.pattern, (0.0, 0.0))
    if not step:
        return ""
    path: list[str] = []
    rows = max(1, round((bottom - top) / step))
    for row in range(rows):
        y = top + (row + 0.5) * (bottom - top) / rows
        height = layer.to_mm - (y - top) / frame.scale
        reach = frame.half(height) - size - 0.5
        if reach <= 0 or (size and bottom - top < 2 * size):
            continue
        path.append(_row(layer.pattern, frame.middle, y, reach, size, step, row))
    return "".join(path)


def _row(
    pattern: str, middle: float, y: float, reach: float, size: float, step: float, row: int
) -> str:
    if pattern == "wave":
        count = max(1, int(2 * reach / 3))
        wave = "q.75 -.7 1.5 0t1.5 0" * count
        return f"M{middle - count * 1.5:.2f} {y:.2f}{wave}"
    if pattern == "hatch":
        return f"M{middle - reach:.2f} {y:.2f}H{middle + reach:.2f}"
    count = int(2 * reach / step) + 1
    if (count + row) % 2 and count > 1:  # rows stand in each other's gaps
        count -= 1
    start = middle - (count - 1) * step / 2
    xs = [start + index * step for index in range(count)]
    if pattern == "cubes":
        side = 2 * size
        return "".join(f"M{x - size:.2f} {y - size:.2f}h{side}v{side}h-{side}z" for x in xs)
    half = f"a{size} {size} 0 1 1 "
    return "".join(f"M{x - size:.2f} {y:.2f}{half}{2 * size} 0{half}-{2 * size} 0z" for x in xs)
