"""Stations, tools and cups: checked as they are linked."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Annotated, ClassVar, Literal, NoReturn

from buildsheets.findings.finding import Fix
from buildsheets.findings.spelling import listed
from buildsheets.menu.likely import CUP_MM, MOST_CUP_ML, USUAL_CUP_MM, USUAL_FLOOR_MM, likely_mm
from buildsheets.menu.linker import Linker
from buildsheets.menu.packaging import PackagingRef
from buildsheets.menu.quantity import Quantity, parse_quantity
from buildsheets.menu.schema import (
    ABOVE_0,
    FROM_0,
    UNWRITTEN,
    Entry,
    Form,
    Grams,
    Kinds,
    Ml,
    Mm,
    Record,
    Ref,
    Spread,
    Text,
    Written,
    key,
    maybe,
)
from buildsheets.menu.units import COUNTED_WITH
from buildsheets.menu.volumes import ML, VolumeUnit

READING_DISTANCE_MM = 600.0
"""Arm's length from a counter card; common practice, no source."""

HOLDS_HINT = "add holds: 8 ml, or holds: 55 g"
POUNDS = ("oz", "lb")
SCALE_STEPS = ("1 g", "0.1 g")
"""What kitchen and coffee scales show; common practice, no source."""
GRAMS_HINT = (
    "a step by weight is in g, kg or mg: set the scale to grams and write what it shows then, as "
    "1 g; marks of volume are fl oz"
)
PULLS = "portafilter"
"""The kind of tool that shots are pulled with: what one gives is the yield of what is pulled."""
_UNITS = {"volume": "ml", "mass": "g", "length": "mm"}

Step = Annotated[Quantity, Kinds("volume", "mass", "length", "count", "tool", plain_ounces=True)]
ToolSpread = Annotated[Quantity, Kinds("volume", "mass", "length", "percent", plain_ounces=True)]


def _letter(text: str) -> str | None:
    letter = text.strip().upper()
    return letter if len(letter) == 1 and letter.isalnum() else None


def _colour(text: str) -> str | None:
    return text.lower() if re.fullmatch("#[0-9a-fA-F]{6}", text) else None


Letter = Annotated[str, Form("STN01", _letter, "a station's mark is one letter or digit, not '{}'")]
Colour = Annotated[
    str,
    Form(
        "STN03",
        _colour,
        "'{}' is no colour of the form '#rrggbb'",
        "in quotes, since YAML reads # as a comment",
    ),
]


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a tool strays: half width or standard uncertainty, absolute or a share.

    Exactly one of ``absolute`` (in ``unit``) and ``share`` (0..1) is set. A counted tool's is that
    of one count.
    """

    absolute: float | None
    share: float | None
    kind: str  # "limit" (rectangular) or "std" (JCGM 100 standard uncertainty)
    unit: str = ""  # "ml", "g" or "mm" of an absolute tolerance


def _tolerance(spread: Quantity | None, kind: str) -> Tolerance | None:
    if spread is None:
        return None
    if spread.kind == "percent":
        return Tolerance(None, spread.value, kind)
    return Tolerance(spread.value, None, kind, _UNITS[spread.kind])


@dataclass(frozen=True, slots=True, kw_only=True)
class Station(Entry):
    """A place at the counter where some of the steps happen."""

    name: Text = key("what the place is called")
    letter: Letter = key("one letter that marks it, so that grey print works")
    accent: Colour = key("accent colour '#rrggbb', dark enough on white")
    reading_distance_mm: Mm = key(
        "from the eye to the card; sets the type size",
        "reading_distance",
        default=READING_DISTANCE_MM,
        within=ABOVE_0,
    )
    blender_ml: Ml | None = maybe(
        "what its blender may hold, the jug's upper mark: 1200 ml", "blender", within=ABOVE_0
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool(Entry):
    """A measuring tool, its smallest step and how far it strays.

    ``unit`` is "ml", "g", "mm" or "count"; a counted tool (pump, scoop) also says what one
    holds: ``holds_ml`` or ``holds_g``. ``step`` is in counts for a counted tool. ``marks`` is the
    unit of one marked in volumes.
    """

    name: Text = key("what the tool is called")
    kind: Literal[
        "jigger",
        "pump",
        "scoop",
        "ladle",
        "scale",
        "line",
        "spoon",
        "jug",
        "shaker",
        "portafilter",
        "hand",
    ] = key("what sort of tool it is; hand for what is counted by hand, as leaves are")
    smallest: Step | None = maybe(
        "smallest step it can measure: 5 ml, 1 g, 1/2 pump, 1 piece",
        "step",
        needed=True,
        within=ABOVE_0,
    )
    holds_ml: Ml | None = maybe(
        "what one stroke or level fill holds: 8 ml, 55 g", "holds", within=ABOVE_0
    )
    holds_g: Grams | None = maybe("", "holds")
    one: Text | None = maybe("what one is called: pump, leaf")
    many: Text | None = maybe("what several are called: pumps, leaves; amounts may say so")
    spread: ToolSpread | None = maybe("how far one measure strays: 2 ml, 5 g, 3 %", "tolerance")
    spread_kind: Literal["limit", "std"] = key(
        "limit: never further than that; std: standard deviation", "tolerance_kind", default="limit"
    )
    unit: str = ""
    marks: VolumeUnit = ML
    step: float = 0.0
    tolerance: Tolerance | None = None

    def linked(self, link: Linker) -> Tool:
        """With its step in the unit it counts in."""
        assert self.smallest is not None
        clear = self.kind == "scale" or link.clear_ounces(self, "step", self.smallest)
        if self.kind != "scale":
            link.clear_ounces(self, "tolerance", self.spread)
        unit = _UNITS.get(self.smallest.kind, "count")
        if self.kind == PULLS:
            if self.says("holds") or self.smallest.unit != "shot":
                at = self.at("holds" if self.says("holds") else "step")
                message = f"'{self.id}' counts shots, and what one gives each shot says itself"
                link.error("SHOT01", at, message, "write step: 1 shot, and no holds:")
        elif unit == "count" and self.holds_ml is None and self.holds_g is None:
            message = (
                f"'{self.id}' counts in {self.smallest.unit}s, but nothing says what one holds"
            )
            link.error("TOOL01", self.written("step").span, message, HOLDS_HINT)
        elif self.smallest.unit in POUNDS and clear:
            shown, at = self.smallest.unit, self.written("step").span
            message = f"'{self.id}' shows {shown}, and cards say weights in grams"
            fixes = tuple(Fix(f"write {step}", at, step) for step in SCALE_STEPS)
            link.error("TOOL03", at, message, GRAMS_HINT, fixes=fixes)
        tolerance = _tolerance(self.spread, self.spread_kind)
        marks = link.shop.marks(self.smallest.unit)
        return replace(self, unit=unit, marks=marks, step=self.smallest.value, tolerance=tolerance)

    def mark_above(
        self, cold_ml: float, grown_ml: float, volumes: VolumeUnit, step_ml: float = 0.0
    ) -> float | None:
        """The ml of the mark that what grew in it comes to: as a level is read, then down to a mark
        of it, or of one with other steps; ``None`` where that is not above what went in."""
        step_ml = step_ml or self.step
        read_ml = volumes.line(grown_ml) * volumes.ml
        mark_ml = math.floor(read_ml / step_ml + 1e-6) * step_ml
        return mark_ml if mark_ml > cold_ml + 1e-6 else None

    def counts(self, number: float) -> tuple[str, ...]:
        """What so many counts of it may be written as; nothing where it is not counted."""
        if self.unit != "count":
            return ()
        called, s = {tool: unit for unit, tool in COUNTED_WITH.items()}, "s" * (number != 1)
        named = [] if self.kind == "hand" else [called.get(self.kind, self.kind) + s]
        own = self.one if number == 1 else self.many
        words = [*own.by_language.values()][:1] if own else []
        return tuple(dict.fromkeys((*named, *words, f"piece{s}")))

    def is_counted_in(self, count: Quantity) -> bool:
        """Whether a count is of this tool: in pieces, by its kind, or in its own words."""
        if count.unit == "piece":
            return self.unit == "count"
        own = (word for of in (self.one, self.many) if of for word in of.by_language.values())
        named = COUNTED_WITH.get(count.unit, count.unit) == self.kind
        return named or count.unit.casefold() in map(str.casefold, own)


ToolRef = Annotated[Tool, Ref("tool", "tools")]
StationRef = Annotated[Station, Ref("station", "stations")]


@dataclass(frozen=True, slots=True)
class CupShape:
    """Inner geometry as written: exactly one of the three forms is set.

    ``frustum`` is (base_mm, rim_mm, height_mm); ``profile`` is (height_mm, diameter_mm) points;
    ``calibration`` is (height_mm, volume_ml) points.
    """

    frustum: tuple[float, float, float] | None = None
    profile: tuple[tuple[float, float], ...] | None = None
    calibration: tuple[tuple[float, float], ...] | None = None

    @property
    def height_mm(self) -> float:
        """Inner height."""
        return self.frustum[2] if self.frustum else (self.profile or self.calibration or ())[-1][0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Level(Record):
    """One point of a cup measured from the inside."""

    height_mm: Mm = key("height above the inner floor", "height")
    diameter_mm: Mm | None = maybe("inner diameter there", "diameter")
    volume_ml: Ml | None = maybe("water the cup holds up to there", "volume")


@dataclass(frozen=True, slots=True, kw_only=True)
class CupSize(Entry):
    """A vessel the shop sells, under its size name; inner geometry in one of three forms.

    ``floor_mm`` lifts every line above the counter. A flat lid presses ice under. Lines and levels
    are read in ``volumes``.
    """

    called: ClassVar[str] = "cup"

    name: Text = key("the size as the guest orders it")
    base_mm: Mm | None = maybe("inner diameter at the floor", "base")
    rim_mm: Mm | None = maybe(
        "inner diameter at the rim; beside a calibration, for the card alone", "rim", within=ABOVE_0
    )
    height_mm: Mm | None = maybe("inner height", "height", within=ABOVE_0)
    profile: tuple[Level, ...] | None = maybe("heights with diameters, for a waisted cup")
    calibration: tuple[Level, ...] | None = maybe("heights with volumes, poured on a scale")
    floor_mm: Mm = key("outer floor: from the counter to the inner floor of the cup", "floor")
    headspace_mm: Mm | None = maybe("what must stay empty under the lid", "headspace", needed=True)
    headspace_ml: Ml | None = maybe("", "headspace")
    declared_brimful_ml: Ml | None = maybe(
        "declared capacity to the rim, to cross-check the geometry", "brimful", within=ABOVE_0
    )
    capacity_spread: Spread | None = maybe(
        "how far the working capacity strays from cup to cup", "capacity_tolerance"
    )
    lid: Literal["flat", "film", "dome", "none"] = key("what closes it")
    dome_mm: Mm | None = maybe(
        "a dome's inner height over the rim, or the ml of water it holds turned over: foam may "
        "stand in it, over the rim",
        "dome",
        within=ABOVE_0,
    )
    dome_ml: Ml | None = maybe("", "dome")
    dome_hole_mm: Mm = key(
        "a dome's hole for the straw, across; measure its height up to there",
        "dome_hole",
        default=0.0,
        within=FROM_0,
    )
    packaging: tuple[PackagingRef, ...] = key(
        "what goes out with each drink of this size: [cup-medium, flat-lid, straw, napkin]; one "
        "named twice goes out twice",
        default=(),
    )
    hot: bool = key("yes for a cup made for hot drinks", default=False)
    for_children: bool = key("yes for a children's cup: no pearls, no caffeine", default=False)
    shape: CupShape = CupShape()
    shape_written: Written = UNWRITTEN
    capacity_tolerance: Tolerance | None = None
    volumes: VolumeUnit = ML

    @property
    def in_inches(self) -> bool:
        """Whether its height is written so."""
        written = (self.profile or self.calibration or (self,))[-1].written("height")
        return parse_quantity(written.text, kinds=("length",)).unit == "in"

    @property
    def rim_width_mm(self) -> float | None:
        """Inner diameter at the rim as measured; ``None`` of a cup that was only poured full.

        Pouring tells the mean width between two levels, and never the width at the rim.
        """
        sides = self.shape.frustum, self.shape.profile
        return self.rim_mm if sides == (None, None) else self.outline_mm[-1][1]

    @property
    def outline_mm(self) -> tuple[tuple[float, float], ...]:
        """(height, inner diameter) points of its side, for a drawing.

        A cup known by pouring has its mean diameter in the middle between two levels, and runs on
        straight to the floor and to the rim, unless the rim was measured.
        """
        shape = self.shape
        if shape.frustum:
            base_mm, rim_mm, height_mm = shape.frustum
            return ((0.0, base_mm), (height_mm, rim_mm))
        if shape.profile:
            return shape.profile
        middles = [
            ((h0 + h1) / 2, math.sqrt(4000 * (v1 - v0) / (math.pi * (h1 - h0))))
            for (h0, v0), (h1, v1) in pairwise(shape.calibration or ())
        ]
        rim_mm = self.rim_mm or _straight_on(middles[-2:], shape.height_mm)
        return ((0.0, _straight_on(middles[:2], 0.0)), *middles, (shape.height_mm, rim_mm))

    @property
    def dome_high_mm(self) -> float:
        """Inner height of its dome over the rim, 0 where that was not measured.

        Of one measured by its water the height that holds it over the rim, or over the one that
        the side leads to: the root of V = pi h (3 a^2 + 3 c^2 + h^2) / 6 (Cardano).
        """
        if self.lid != "dome" or self.dome_ml is None:
            return self.dome_mm or 0.0 if self.lid == "dome" else 0.0
        rim_mm = self.rim_width_mm or self.outline_mm[-1][1]
        third, half = (rim_mm**2 + self.dome_hole_mm**2) / 4, 3000 * self.dome_ml / math.pi
        root = math.sqrt(half**2 + third**3)
        return math.cbrt(half + root) + math.cbrt(half - root)

    def linked(self, link: Linker) -> CupSize:
        """With its checked inner geometry."""
        shape = self._shape(link)
        height_mm = shape.height_mm
        if self.headspace_mm is not None and self.headspace_mm >= height_mm:
            headspace = self.written("headspace")
            message = f"headspace is {headspace.text}; the cup is {height_mm:g} mm high"
            hint = "write what must stay empty under the lid, from 0 to less than the cup"
            link.error("CUP04", headspace.span, message, hint)
        sized = replace(self, shape=shape)
        sized._check_dome(link)
        sized._check_scale(link)
        return replace(
            self,
            shape=shape,
            shape_written=self._shape_written(),
            capacity_tolerance=_tolerance(self.capacity_spread, "limit"),
            volumes=link.shop.volumes,
        )

    def _check_dome(self, link: Linker) -> None:
        """A dome's measures belong to a dome, over a rim that is known, with a smaller hole."""
        written = next((name for name in ("dome", "dome_hole") if self.says(name)), "")
        if not written:
            return
        rim_mm = self.rim_width_mm
        message, hint = "", ""
        if self.lid != "dome":
            message = f"cup '{self.id}' says {written}, and its lid is {self.lid}"
            hint = f"write lid: dome, or leave {written} out"
        elif not self.says("dome"):
            message = f"cup '{self.id}' has a hole in its dome and does not say how high that is"
            hint = "add dome: 30 mm, its inner height from the rim up to the hole"
        elif self.dome_mm is not None and rim_mm is None:
            message = f"how much the dome of cup '{self.id}' holds hangs on its rim, not measured"
            hint = "add rim: 90 mm, or write the ml of water the dome holds"
        elif self.dome_hole_mm >= (rim_mm or self.outline_mm[-1][1]):
            message = f"the hole in the dome of cup '{self.id}' is as wide as its rim"
            hint = "write the diameter of the hole"
        if message:
            link.error("CUP06", self.at(written), message, hint)

    def _check_scale(self, link: Linker) -> None:
        """No measure may be that of no cup: a slip of the unit would make each line of it wrong."""
        levels = (*(self.profile or ()), *(self.calibration or ()))
        measures: list[tuple[str, float | None, Written]] = [
            (name, mm, self.written(name))
            for name, mm in (
                ("base", self.base_mm),
                ("rim", self.rim_mm),
                ("height", self.height_mm),
                ("floor", self.floor_mm),
            )
        ]
        for level in levels:
            measures.append(("diameter", level.diameter_mm, level.written("diameter")))
            high_mm = max(level.height_mm, CUP_MM["height"].least)  # a low one is near the floor
            measures.append(("height", high_mm, level.written("height")))
            if (level.volume_ml or 0.0) > MOST_CUP_ML:
                written = level.written("volume")
                message = f"a volume of cup '{self.id}' is {written.text}: no cup holds so much"
                link.error("CUP07", written.span, message, "most cups hold from 100 to 1000 ml")
        for name, mm, written in measures:
            if mm is None or CUP_MM[name].holds(mm):
                continue
            usual = USUAL_FLOOR_MM if name == "floor" else USUAL_CUP_MM
            meant = likely_mm(mm, written.text, usual)
            message = f"the {name} of cup '{self.id}' is {written.text}, which no cup has"
            hint = f"usual is {CUP_MM[name].words}" + (f"; did you mean {meant}?" if meant else "")
            link.error("CUP07", written.span, message, hint)
        rim_mm = self.rim_width_mm or self.outline_mm[-1][1]
        if self.lid == "dome" and CUP_MM["rim"].holds(rim_mm) and self.dome_high_mm > rim_mm:
            written = self.written("dome")
            so_high = "" if self.dome_ml is None else f", {self.dome_high_mm:.0f} mm high"
            message = (
                f"the dome of cup '{self.id}' is {written.text}{so_high}, and its rim "
                f"{rim_mm:.0f} mm wide: no dome is higher than it is wide"
            )
            below = (15.0, rim_mm / 2)
            meant = likely_mm(self.dome_mm, written.text, below) if self.dome_mm else ""
            hint = f"usual is up to half as high: {rim_mm / 2:.0f} mm"
            hint += f"; did you mean {meant}?" if meant else ""
            link.error("CUP07", written.span, message, hint)

    def _shape_written(self) -> Written:
        """The geometry as one phrase, placed at its first key."""
        if self.profile is not None:
            return Written("profile", self.at("profile"))
        if self.calibration is not None:
            return Written("pour calibration", self.at("calibration"))
        sides = " / ".join(self.written(side).text for side in ("base", "rim", "height"))
        return Written(sides, self.at("base"))

    def _shape(self, link: Linker) -> CupShape:
        sides = {"base": self.base_mm, "rim": self.rim_mm, "height": self.height_mm}
        missing = [name for name, side in sides.items() if side is None]
        # A cup known by pouring has no measured sides but the rim, which a caliper reaches.
        measured = self.base_mm, self.height_mm, None if self.calibration else self.rim_mm
        forms = [
            measured != (None, None, None),
            self.profile is not None,
            self.calibration is not None,
        ]
        if sum(forms) != 1:
            given = "more than one is written" if any(forms) else "none is written"
            message = f"cup '{self.id}' needs its inside in exactly one form, and {given}"
            hint = "base, rim and height; or profile; or calibration"
            link.stop("CUP01", self.span, message, hint)
        if self.profile is not None:
            return self._profile(link, self.profile)
        if self.calibration is not None:
            return self._calibration(link, self.calibration)
        if self.base_mm is None or self.rim_mm is None or self.height_mm is None:
            message = f"cup '{self.id}' lacks its {listed(missing, 'and')}"
            hint = "inner diameters at floor and rim, and the inner height"
            link.stop("CUP01", self.span, message, hint)
        return CupShape(frustum=(self.base_mm, self.rim_mm, self.height_mm))

    def _profile(self, link: Linker, levels: tuple[Level, ...]) -> CupShape:
        points = self._points(link, [(one, one.diameter_mm) for one in levels], "diameter")
        heights = [height for height, _ in points]
        if len(points) < 2 or heights[0] != 0.0 or heights[-1] <= 0.0 or heights != sorted(heights):
            self._unordered(link, "profile", "heights must start at 0 mm and never fall")
        if points[-1][1] <= 0.0:
            self._unordered(link, "profile", "it is closed at the rim")
        return CupShape(profile=tuple(points))

    def _calibration(self, link: Linker, levels: tuple[Level, ...]) -> CupShape:
        points = self._points(link, [(one, one.volume_ml) for one in levels], "volume")
        if points and points[0] != (0.0, 0.0):
            points.insert(0, (0.0, 0.0))
        if len(points) < 2 or not all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(points)):
            rule = "heights and volumes must both rise from one level to the next"
            self._unordered(link, "calibration", rule)
        return CupShape(calibration=tuple(points))

    def _points(
        self, link: Linker, levels: list[tuple[Level, float | None]], other: str
    ) -> list[tuple[float, float]]:
        for level, second in levels:
            if second is None:
                link.stop("CUP02", level.span, f"this level of cup '{self.id}' lacks its {other}")
        return [(level.height_mm, second or 0.0) for level, second in levels]

    def _unordered(self, link: Linker, name: str, message: str) -> NoReturn:
        link.stop("CUP03", self.at(name), f"cup '{self.id}': {message}")


def _straight_on(points: Sequence[tuple[float, float]], at: float) -> float:
    """The straight line through the first and the last point, at a place; never below 0."""
    (x0, y0), (x1, y1) = points[0], points[-1]
    return y0 if x1 == x0 else max(0.0, y0 + (y1 - y0) * (at - x0) / (x1 - x0))


CupRef = Annotated[CupSize, Ref("cup", "cups")]
