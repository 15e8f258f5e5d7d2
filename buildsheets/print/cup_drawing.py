"""A cup with its layers in; a picture in true proportion and places for its labels out."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from buildsheets.print.drawing import Pen, Shape, number, polygon, svg
from buildsheets.print.gauge import apart
from buildsheets.views.types import CupDrawing, DrawnLine, Layer

LEADER_MM = 2.6  # from the cup's side to its labels

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
class Names:
    """Where each thing of a drawing is named, so that no name stands twice.

    The cap's name stands over the cup, the lowest bed's under it, the drink's in it where there is
    room; lines and other layers are named at the right. A line at the edge of a named bed or cap
    says nothing new and is left out.
    """

    above: str
    below: str
    inside: Layer | None
    beside: tuple[Layer, ...]
    lines: tuple[DrawnLine, ...]


def names_of(cup: CupDrawing) -> Names:
    """Sort a drawing's names by where they stand."""
    beds = [layer for layer in cup.layers if layer.kind == "bed"]
    caps = [layer for layer in cup.layers if layer.kind == "cap"]
    drinks = [layer for layer in cup.layers if layer.kind == "liquid"]
    placed = [*beds[:1], *caps[-1:], *drinks[:1]]
    named = {"bed": bool(beds), "cap": bool(caps)}
    return Names(
        caps[-1].name if caps else "",
        beds[0].name if beds else "",
        drinks[0] if drinks else None,
        tuple(layer for layer in cup.layers if layer not in placed),
        tuple(line for line in cup.lines if not named.get(line.kind, False)),
    )


@dataclass(frozen=True, slots=True)
class DrawnCup:
    """The picture as a data address, its size, and its names: over, under, in and beside it.

    Places are in mm from the picture's top left corner.
    """

    picture: str
    width_mm: float
    height_mm: float
    above: str
    below: str
    labels: tuple[PlacedLabel, ...]
    inside: PlacedLabel | None  # the drink's name, where it fits into the drink


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

    def wall_points(self, low: float, high: float, side: int) -> list[tuple[float, float]]:
        """The cup's inside from ``low`` to ``high``, on the right (1) or left (-1)."""
        heights = [low, *(h for h, _ in self.outline if low < h < high), high]
        return [(self.middle + side * self.half(h), self.y(h)) for h in heights]

    def band(self, pen: Pen, low: float, high: float) -> Shape:
        """The cup's inside between two heights, as one closed shape."""
        right, left = self.wall_points(low, high, 1), self.wall_points(low, high, -1)
        return polygon(pen, [*right, *reversed(left)])


def drawn_cup(
    cup: CupDrawing, width_mm: float, height_mm: float, ink: str,
    label_mm: Callable[[str], float], text_mm: Callable[[str], float],
) -> DrawnCup:  # fmt: skip
    """Draw ``cup`` as large as the room allows, true in proportion, and place its labels.

    ``label_mm`` is how high a label at the right is, ``text_mm`` how wide a text on one line: the
    drink's name goes inside where it fits. Raises ``TooCrowded`` when the labels have no room.
    """
    names = names_of(cup)
    frame = _Frame(cup, width_mm - LEADER_MM, height_mm)
    shapes = [shape for layer in cup.layers for shape in _layer(frame, layer)]
    foot, base = frame.y(-cup.floor_mm), frame.half(0.0)
    right = frame.wall_points(0.0, cup.rim_mm, 1)
    left = frame.wall_points(0.0, cup.rim_mm, -1)
    wall = [*reversed(right), (frame.middle + base, foot), (frame.middle - base, foot), *left]
    shapes.append(polygon(Pen(stroke=ink, width_mm=frame.wall), wall, closed=False, layer=2))
    mark = Pen(stroke=ink, width_mm=0.5)
    shapes += [
        Shape(mark, frame.middle + frame.half(h) - 3.2, frame.y(h), "h4", 2)
        for h in (line.height_mm for line in names.lines)
    ]
    inside = _inside(cup, names.inside, frame, label_mm(""), text_mm)
    drink = [names.inside] if names.inside and not inside else []
    labels = _labels([*names.beside, *drink], names.lines, frame, label_mm)
    fine = Pen(stroke=ink, width_mm=0.25)
    end = frame.width + LEADER_MM
    for label in labels:
        x, y = label.target_x_mm, label.target_y_mm
        slant = f"l{number(end - x)} {number(label.label_y_mm - y)}"
        shapes.append(Shape(fine, x, y, slant, 2))
    return DrawnCup(
        svg(shapes, end, frame.height), end, frame.height, names.above, names.below, labels, inside
    )


def _inside(
    cup: CupDrawing, drink: Layer | None, frame: _Frame, line_mm: float,
    text_mm: Callable[[str], float],
) -> PlacedLabel | None:  # fmt: skip
    """The drink's name in the widest clear part of the drink: under the ice, over the bed."""
    if drink is None:
        return None
    over = [la for la in cup.layers if la.kind in ("ice", "cap") and la.from_mm >= drink.from_mm]
    top = min([drink.to_mm, *(layer.from_mm for layer in over)])
    room = 2 * frame.half(drink.from_mm) - 1.0
    if (top - drink.from_mm) * frame.scale < line_mm or room < text_mm(drink.name):
        return None
    y = frame.y((top + drink.from_mm) / 2)
    return PlacedLabel(drink.name, False, frame.middle, y, y)


def _labels(
    layers: Sequence[Layer],
    lines: Sequence[DrawnLine],
    frame: _Frame,
    label_mm: Callable[[str], float],
) -> tuple[PlacedLabel, ...]:
    wanted: list[tuple[float, float, str, bool]] = []
    for layer in layers:
        middle = (layer.from_mm + layer.to_mm) / 2
        edge = frame.middle + frame.half(middle) * 0.72
        wanted.append((frame.y(middle), edge, layer.name, False))
    for line in lines:
        edge = frame.middle + frame.half(line.height_mm) + 0.8
        wanted.append((frame.y(line.height_mm), edge, line.label, line.kind == "line"))
    wanted.sort()
    if not wanted:
        return ()
    heights = [label_mm(text) for _, _, text, _ in wanted]
    places = apart([w[0] for w in wanted], heights, 0.0, frame.height)
    return tuple(
        PlacedLabel(text, bold, x, y, place)
        for (y, x, text, bold), place in zip(wanted, places, strict=True)
    )


_SIZE = {"dots": 1.9, "grain": 0.56}  # width of a mark in mm
_STEP = {"dots": 2.3, "grain": 1.1, "wave": 2.4, "hatch": 1.6}
_CUBE_MM = 13.0  # of the cup's own millimetres; large enough to see how far ice stands out


def _layer(frame: _Frame, layer: Layer) -> list[Shape]:
    """One band: its fill, and the marks of its pattern where they lie inside the cup."""
    fill, ink = _FILL.get(layer.pattern, _FILL["plain"])
    shapes = [frame.band(Pen(fill=fill), layer.from_mm, layer.to_mm)] if fill else []
    # Dots and cubes are points drawn with a wide pen: one path of few numbers.
    if layer.pattern == "cubes":
        return shapes + _cubes(frame, layer, ink)
    if layer.pattern in ("dots", "grain"):
        pens = [Pen(stroke=ink, width_mm=_SIZE[layer.pattern], cap="round")]
    elif layer.pattern in _STEP:
        pens = [Pen(stroke=ink, width_mm=0.3)]
    else:
        pens = []
    return shapes + [Shape(pen, x, y, d) for pen in pens for x, y, d in _marks(frame, layer)]


def _cubes(frame: _Frame, layer: Layer, ink: str) -> list[Shape]:
    """Ice cubes from the top of the ice down, so that what stands out of the drink shows."""
    top, bottom = frame.y(layer.to_mm), frame.y(layer.from_mm)
    side = min(_CUBE_MM * frame.scale, bottom - top)
    if side <= 0.6:
        return []
    pens = (
        Pen(stroke=ink, width_mm=round(side, 3), cap="square"),
        Pen(stroke="#ffffff", width_mm=round(side - 0.6, 3), cap="square"),
    )
    rows = max(1, int((bottom - top + 0.8) / (side + 0.8)))
    pitch = (bottom - top - side) / (rows - 1) if rows > 1 else 0.0
    marks: list[tuple[float, float, str]] = []
    for row in range(rows):
        y = top + side / 2 + row * pitch
        reach = frame.half(layer.to_mm - (y - top) / frame.scale) - side / 2 - 0.6
        if reach > 0:
            marks += _row(layer.pattern, frame.middle, y, reach, side + 1.0, row)
    return [Shape(pen, x, y, d) for pen in pens for x, y, d in marks]


def _marks(frame: _Frame, layer: Layer) -> list[tuple[float, float, str]]:
    size, step = _SIZE.get(layer.pattern, 0.0), _STEP[layer.pattern]
    top, bottom = frame.y(layer.to_mm), frame.y(layer.from_mm)
    rows = max(1, round((bottom - top) / step))
    if size > bottom - top:
        return []
    marks: list[tuple[float, float, str]] = []
    for row in range(rows):
        y = top + (row + 0.5) * (bottom - top) / rows
        reach = frame.half(layer.to_mm - (y - top) / frame.scale) - size / 2 - 0.5
        if reach > 0:
            marks += _row(layer.pattern, frame.middle, y, reach, step, row)
    return marks


def _row(
    pattern: str, middle: float, y: float, reach: float, step: float, row: int
) -> list[tuple[float, float, str]]:
    if pattern == "wave":
        count = max(1, int(2 * reach / 3))
        return [(middle - count * 1.5, y, "q.75 -.7 1.5 0t1.5 0" * count)]
    if pattern == "hatch":
        return [(middle - reach, y, f"h{number(2 * reach)}")]
    count = int(2 * reach / step) + 1
    if (count + row) % 2 and count > 1:  # rows stand in each other's gaps
        count -= 1
    start = middle - (count - 1) * step / 2
    return [(start + place * step, y, "h.01") for place in range(count)]
