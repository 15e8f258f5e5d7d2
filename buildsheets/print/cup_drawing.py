"""A cup with its layers in; a picture in true proportion and places for its labels out."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from buildsheets.print.drawing import Pen, Shape, number, polygon, svg
from buildsheets.print.gauge import apart
from buildsheets.views.types import CupDrawing, DrawnLine, Layer

LEADER_MM = 2.6  # from the cup's side to its labels
WALL_MM = 0.5  # how thick the cup's wall is drawn

INK, PAPER = "#1c1c1c", "#ffffff"
DARK = "#4a4a4a"  # ground of a topping that has the form of another
# Greys of one liquid, and of the lowest and the topmost of several: with a line between them, and
# dark enough or light enough for ink to be read on them.
ONE_LIQUID, LOWEST, TOPMOST = 0xD9, 0xA8, 0xEE
CAP_FILL = {"grain": ("#efe9dc", "#4a4a4a"), "wave": ("#ffffff", "#7d7d7d")}
ICE_INK = "#5a5a5a"
EDGE = Pen(stroke="#4a4a4a", width_mm=0.2)  # between two layers


@dataclass(frozen=True, slots=True)
class Stroke:
    """A part of a piece: a line through points from its middle, or a filled shape without a pen."""

    light: bool
    width_mm: float
    cap: str
    points: tuple[tuple[float, float], ...]

    def pen(self, size: float, dark_ground: bool) -> Pen:
        """Its pen; on a dark ground light and dark change places."""
        colour = PAPER if self.light != dark_ground else INK
        if not self.width_mm:
            return Pen(fill=colour)
        return Pen(stroke=colour, width_mm=round(self.width_mm * size, 3), cap=self.cap)

    def at(self, pen: Pen, x: float, y: float, size: float) -> Shape:
        """The stroke of a piece whose middle is at a place."""
        points = [(x + dx * size, y + dy * size) for dx, dy in self.points]
        return polygon(pen, points, closed=not self.width_mm)


@dataclass(frozen=True, slots=True)
class Form:
    """How one piece of a topping looks, what room it takes, and how far apart pieces are."""

    width_mm: float
    height_mm: float
    across_mm: float
    down_mm: float
    strokes: tuple[Stroke, ...]


def _point(width_mm: float, cap: str = "round", *, light: bool = False) -> Stroke:
    """A disc or a square: a point drawn with a wide pen is one path of few numbers."""
    return Stroke(light, width_mm, cap, ((0.0, 0.0), (0.01, 0.0)))


FORMS = {
    "pearls": Form(1.9, 1.9, 2.3, 2.3, (_point(1.9),)),
    "beads": Form(1.9, 1.9, 2.3, 2.3, (_point(1.9), _point(1.2, light=True))),
    "cubes": Form(
        1.7, 1.7, 2.5, 2.3, (_point(1.7, "square"), _point(1.1, "square", light=True))
    ),
    "beans": Form(2.6, 1.3, 3.2, 1.9, (Stroke(False, 1.3, "round", ((-0.65, 0.0), (0.65, 0.0))),)),
    "seeds": Form(1.5, 1.5, 1.7, 1.6, (_point(1.5, light=True), _point(0.6))),
    "strips": Form(2.0, 1.4, 2.1, 2.0, (Stroke(False, 0.55, "butt", ((-0.8, 0.5), (0.8, -0.5))),)),
    "crumbs": Form(
        1.4, 1.2, 1.9, 1.7, (Stroke(False, 0.0, "", ((-0.7, 0.6), (0.0, -0.6), (0.7, 0.6))),)
    ),
}  # fmt: skip
SMALLER = 0.6  # a piece of the third topping of a form, on the scale of the first
LEAST = 0.4  # pieces shrink to this in a bed lower than they are


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

    The cap's name and that of what is dusted on it stand over the cup, the lowest bed's under it,
    the drink's in it where there is room; lines and other layers are named at the right. A line at
    the edge of a named bed or cap says nothing new and is left out.
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
    drink = max(drinks, key=lambda layer: _clear_mm(cup, layer), default=None)
    named = {"bed": bool(beds), "cap": bool(caps)}
    above = [*(layer for layer in cup.layers if layer.kind == "dusted"), *caps[-1:]]
    placed = [*beds[:1], *above, drink]
    return Names(
        " · ".join(layer.name for layer in above),
        beds[0].name if beds else "",
        drink,
        tuple(layer for layer in cup.layers if layer not in placed),
        tuple(line for line in cup.lines if not named.get(line.kind, False)),
    )


def _clear(cup: CupDrawing, drink: Layer) -> tuple[float, float]:
    """From where to where nothing else stands in a liquid: over the bed, under the ice."""
    beds = [layer.to_mm for layer in cup.layers if layer.kind == "bed"]
    over = [one.from_mm for one in cup.layers if one.kind in ("ice", "pieces", "cap")]
    low = max([drink.from_mm, *beds])
    return low, min([drink.to_mm, *(bottom for bottom in over if bottom >= drink.from_mm)])


def _clear_mm(cup: CupDrawing, drink: Layer) -> float:
    low, high = _clear(cup, drink)
    return high - low


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
    """Cup millimetres to drawing millimetres, y downwards, the axis in the middle.

    The cup stands in the middle of the picture, which is as wide as the largest cup, so that all
    names stand in the same place, and as high as the cup or its labels are.
    """

    def __init__(
        self, cup: CupDrawing, width_mm: float, height_mm: float, labels_mm: float
    ) -> None:
        self.outline = (*cup.outline_mm, *cup.dome_mm)
        wide = max(diameter for _, diameter in self.outline)
        room_wide, room_high = cup.room_mm
        top_mm = max(cup.rim_mm, self.outline[-1][0])
        self.wall = WALL_MM
        self.scale = min(
            (width_mm - 2 * self.wall) / max(wide, room_wide),
            (height_mm - 2 * self.wall) / max(top_mm + cup.floor_mm, room_high),
        )
        self.width = max(wide, room_wide) * self.scale + 2 * self.wall
        high = (top_mm + cup.floor_mm) * self.scale + 2 * self.wall
        self.height = max(high, labels_mm)
        self.floor = (self.height + high) / 2 - self.wall - cup.floor_mm * self.scale
        self.middle = self.width / 2

    def y(self, height_mm: float) -> float:
        return self.floor - height_mm * self.scale

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
    """Draw ``cup`` in a room that the largest cup of the shop fills, and place its labels.

    ``label_mm`` is how high a label at the right is, ``text_mm`` how wide a text on one line: the
    drink's name goes inside where it fits. The picture is higher than the room where its labels
    are.
    """
    names = names_of(cup)
    across = width_mm - LEADER_MM
    frame = _Frame(cup, across, height_mm, 0.0)
    inside_fits = _fits_inside(cup, names.inside, frame, label_mm(""), text_mm)
    drink = [names.inside] if names.inside and not inside_fits else []
    beside = [*names.beside, *drink]
    texts = [*(layer.name for layer in beside), *(line.label for line in names.lines)]
    labels_mm = sum(map(label_mm, texts))
    below = names.below
    if below and labels_mm > frame.height:  # what stands under the picture is far from the cup
        beside = [*(layer for layer in cup.layers if layer.kind == "bed")][:1] + beside
        below, labels_mm = "", labels_mm + label_mm(below)
    frame = _Frame(cup, across, height_mm, labels_mm)
    shapes = [shape for layer in cup.layers for shape in _layer(cup, frame, layer)]
    shapes.append(_wall(cup, frame, ink))
    for side in (1, -1) if cup.dome_mm else ():
        dome = frame.wall_points(cup.rim_mm, cup.dome_mm[-1][0], side)
        shapes.append(polygon(Pen(stroke=ink, width_mm=0.3), dome, closed=False, layer=2))
    mark = Pen(stroke=ink, width_mm=0.5)
    shapes += [
        Shape(mark, frame.middle + frame.half(h) - 3.2, frame.y(h), "h4", 2)
        for h in (line.height_mm for line in names.lines)
    ]
    labels = _labels(beside, names.lines, frame, label_mm)
    end = frame.width + LEADER_MM
    shapes += _leaders(labels, end, ink)
    inside = None
    if names.inside and inside_fits:
        y = frame.y(sum(_clear(cup, names.inside)) / 2)
        inside = PlacedLabel(names.inside.name, False, frame.middle, y, y)
    return DrawnCup(
        svg(shapes, end, frame.height), end, frame.height, names.above, below, labels, inside
    )


def cup_at_true_size(cup: CupDrawing, ink: str, label_mm: Callable[[str], float]) -> DrawnCup:
    """Draw ``cup`` empty, a millimetre for a millimetre, its lines across it and labels beside."""
    cup = replace(cup, room_mm=(0.0, 0.0), dome_mm=())
    wide, high = max(width for _, width in cup.outline_mm), cup.rim_mm + cup.floor_mm
    labels_mm = sum(label_mm(line.label) for line in cup.lines)
    frame = _Frame(cup, wide + 2 * WALL_MM, high + 2 * WALL_MM, labels_mm)
    shapes = [_wall(cup, frame, ink)]
    for line in cup.lines:
        # Off the wall, or it would pass for a proof bar.
        half, y = frame.half(line.height_mm) - 1.5, frame.y(line.height_mm)
        broken = f"h{number(half / 16)}m{number(half / 16)} 0" * 16
        pen = Pen(stroke=ink, width_mm=0.5)
        if line.kind != "rim":
            across = f"h{number(2 * half)}" if line.kind == "line" else broken
            shapes.append(Shape(pen, frame.middle - half, y, across, 2))
    labels, end = _labels((), cup.lines, frame, label_mm), frame.width + LEADER_MM
    shapes += _leaders(labels, end, ink)
    return DrawnCup(svg(shapes, end, frame.height), end, frame.height, "", "", labels, None)


def _wall(cup: CupDrawing, frame: _Frame, ink: str) -> Shape:
    """The cup's wall and foot, open at the rim."""
    foot, base = frame.y(-cup.floor_mm), frame.half(0.0)
    right = frame.wall_points(0.0, cup.rim_mm, 1)
    left = frame.wall_points(0.0, cup.rim_mm, -1)
    wall = [*reversed(right), (frame.middle + base, foot), (frame.middle - base, foot), *left]
    return polygon(Pen(stroke=ink, width_mm=frame.wall), wall, closed=False, layer=2)


def _leaders(labels: Sequence[PlacedLabel], end_mm: float, ink: str) -> Iterator[Shape]:
    """A fine line from what a label is about to the label."""
    fine = Pen(stroke=ink, width_mm=0.25)
    for label in labels:
        x, y = label.target_x_mm, label.target_y_mm
        slant = f"l{number(end_mm - x)} {number(label.label_y_mm - y)}"
        yield Shape(fine, x, y, slant, 2)


def _fits_inside(
    cup: CupDrawing, drink: Layer | None, frame: _Frame, line_mm: float,
    text_mm: Callable[[str], float],
) -> bool:  # fmt: skip
    """Whether the drink's name fits on a line in the clear part of it."""
    if drink is None:
        return False
    foot_of_text = sum(_clear(cup, drink)) / 2 - line_mm / 2 / frame.scale
    walls = [FORMS[layer.pattern].width_mm for layer in cup.layers if layer.kind == "wall"]
    room = 2 * (frame.half(foot_of_text) - max(walls, default=0.0)) - 1.0
    return _clear_mm(cup, drink) * frame.scale >= line_mm and room >= text_mm(drink.name)


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
    wanted.sort(key=lambda one: one[:2])
    if not wanted:
        return ()
    heights = [label_mm(text) for _, _, text, _ in wanted]
    places = apart([w[0] for w in wanted], heights, 0.0, frame.height)
    return tuple(
        PlacedLabel(text, bold, x, y, place)
        for (y, x, text, bold), place in zip(wanted, places, strict=True)
    )


_CUBE_MM = 12.0  # of the cup's own millimetres; large enough to see how far ice stands out
_CUBES_APART_MM = 0.5
_GRAIN_MM, _GRAIN_STEP_MM, _WAVE_STEP_MM = 0.56, 1.1, 2.4


def _layer(cup: CupDrawing, frame: _Frame, layer: Layer) -> list[Shape]:
    """One band: its ground, the marks of its pattern where they lie inside the cup, its edge."""
    low, high = layer.from_mm, layer.to_mm
    if layer.kind == "dusted":
        return _dust(frame, high)
    if layer.kind == "ice":
        return _ice(frame, layer)
    if layer.kind == "liquid":
        count = sum(one.kind == "liquid" for one in cup.layers)
        tone = ONE_LIQUID
        if count > 1:
            tone = round(LOWEST + (TOPMOST - LOWEST) * layer.variant / (count - 1))
        return [
            frame.band(Pen(fill=f"#{tone:02x}{tone:02x}{tone:02x}"), low, high),
            _edge(frame, high),
        ]
    if layer.kind == "bed":
        return [*_bed(frame, layer), _edge(frame, high)]
    if layer.kind in ("pieces", "wall"):
        return _bed(frame, layer)
    fill, ink = CAP_FILL[layer.pattern]
    shapes = [frame.band(Pen(fill=fill), low, high), _edge(frame, high)]
    if layer.pattern == "wave":
        pen, size, step = Pen(stroke=ink, width_mm=0.3), 0.0, _WAVE_STEP_MM
    else:
        pen, size, step = (
            Pen(stroke=ink, width_mm=_GRAIN_MM, cap="round"),
            _GRAIN_MM,
            _GRAIN_STEP_MM,
        )
    for place, (y, reach) in enumerate(_rows(frame, layer, size, size, step)):
        if layer.pattern == "wave":
            count = max(1, int(2 * reach / 3))
            shapes.append(Shape(pen, frame.middle - count * 1.5, y, "q.75 -.7 1.5 0t1.5 0" * count))
        else:
            shapes += [Shape(pen, x, y, "h.01") for x in _row(frame.middle, reach, step, place)]
    return shapes


def _edge(frame: _Frame, height_mm: float) -> Shape:
    """The line at the top of a layer."""
    half = frame.half(height_mm)
    return Shape(EDGE, frame.middle - half, frame.y(height_mm), f"h{number(2 * half)}")


def _bed(frame: _Frame, layer: Layer) -> list[Shape]:
    """The pieces of a topping; the second of a form is light on dark, the third has small pieces,
    the fourth both."""
    form, dark = FORMS[layer.pattern], layer.variant % 2 == 1
    size = SMALLER if layer.variant % 4 > 1 else 1.0
    room = (layer.to_mm - layer.from_mm) * frame.scale
    size = max(LEAST, min(size, room / form.height_mm))
    grounded = dark and layer.kind == "bed"
    shapes = [frame.band(Pen(fill=DARK), layer.from_mm, layer.to_mm)] if grounded else []
    pens = [(stroke, stroke.pen(size, grounded)) for stroke in form.strokes]
    rows = _rows(frame, layer, form.width_mm * size, form.height_mm * size, form.down_mm * size)
    for place, (y, reach) in enumerate(rows):
        across = _row(frame.middle, reach, form.across_mm * size, place)
        if layer.kind == "wall":
            across = [frame.middle - reach, frame.middle + reach]
        for x in across:
            shapes += [stroke.at(pen, x, y, size) for stroke, pen in pens]
    return shapes


def _dust(frame: _Frame, height_mm: float) -> list[Shape]:
    """Specks that lie on what is highest."""
    pen = Pen(stroke=DARK, width_mm=0.5, cap="round")
    return [
        Shape(pen, x, frame.y(height_mm) - up, "h.01")
        for row, up in enumerate((0.25, 0.9))
        for x in _row(frame.middle, frame.half(height_mm) - 0.8, 1.3, row)
    ]


def _ice(frame: _Frame, layer: Layer) -> list[Shape]:
    """Ice cubes from the top of the ice down, so that what stands out of the drink shows."""
    top, bottom = frame.y(layer.to_mm), frame.y(layer.from_mm)
    side = min(_CUBE_MM * frame.scale, bottom - top)
    if side <= 0.6:
        return []
    pens = (
        Pen(stroke=ICE_INK, width_mm=round(side, 3), cap="square"),
        Pen(stroke=PAPER, width_mm=round(side - 0.6, 3), cap="square"),
    )
    apart_mm = _CUBES_APART_MM
    rows = max(1, int((bottom - top + apart_mm) / (side + apart_mm)))
    pitch = (bottom - top - side) / (rows - 1) if rows > 1 else 0.0
    marks: list[tuple[float, float]] = []
    for row in range(rows):
        y = top + side / 2 + row * pitch
        reach = frame.half(layer.to_mm - (y - top) / frame.scale) - side / 2 - 0.6
        if reach > 0:
            marks += [(x, y) for x in _row(frame.middle, reach, side + 1.0, row)]
    return [Shape(pen, x, y, "h.01") for pen in pens for x, y in marks]


def _rows(
    frame: _Frame, layer: Layer, wide_mm: float, high_mm: float, step_mm: float
) -> list[tuple[float, float]]:
    """Where rows of marks of a size stand in a band, and how far from the axis they reach."""
    top, bottom = frame.y(layer.to_mm), frame.y(layer.from_mm)
    if high_mm > bottom - top + 1e-9:
        return []
    rows = max(1, round((bottom - top) / step_mm))
    found = []
    for row in range(rows):
        y = top + (row + 0.5) * (bottom - top) / rows
        reach = frame.half(layer.to_mm - (y - top) / frame.scale) - wide_mm / 2 - 0.5
        if reach > 0:
            found.append((y, reach))
    return found


def _row(middle: float, reach: float, step: float, row: int) -> list[float]:
    """The places of a row's marks: rows stand in each other's gaps."""
    count = int(2 * reach / step) + 1
    if (count + row) % 2 and count > 1:
        count -= 1
    start = middle - (count - 1) * step / 2
    return [start + place * step for place in range(count)]
