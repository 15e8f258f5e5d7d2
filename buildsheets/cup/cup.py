"""Inner measures of a cup go in; volume, height, area and working capacity come out.

Every level in this package is a *water reading*: the ml of water that would stand equally high in
the empty cup. This module is the only bridge between those ml and mm (fill model section 1).
"""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

from buildsheets.cup.errors import AboveRimError, FigureError, finite, non_negative, positive
from buildsheets.cup.search import largest_within

FIT_TOLERANCE_ML = 1e-6
"""Slack of every "fits" comparison, so that equality fits in binary arithmetic."""

_FRUSTUM = math.pi / 12_000.0  # mm3 to ml in V = pi z (d0^2 + d0 d + d^2) / 12
_QUARTER_PI = math.pi / 4.0

CupKind = Literal["frustum", "profile", "calibration"]
Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class _Frustum:
    """One layer whose diameter runs linearly from ``d0`` to ``d1`` over ``height`` mm."""

    height: float
    d0: float
    d1: float
    slope: float
    volume: float

    def volume_below(self, z: float) -> float:
        d = self.d0 + self.slope * z
        return _FRUSTUM * z * (self.d0 * self.d0 + self.d0 * d + d * d)

    def area(self, z: float) -> float:
        d = self.d0 + self.slope * z
        return _QUARTER_PI * d * d

    def height_of(self, volume: float) -> float:
        # Measured from the narrow end the cubed diameter only grows, so nothing cancels; and
        # z = 12 V / (pi (d0^2 + d0 d + d^2)) needs no division by the taper, which may be 0.
        if self.slope < 0:
            return self.height - self._from_narrow_end(self.volume - volume, self.d1)
        return self._from_narrow_end(volume, self.d0)

    def _from_narrow_end(self, volume: float, narrow: float) -> float:
        d = math.cbrt(narrow**3 + abs(self.slope) * max(volume, 0.0) / _FRUSTUM)
        squares = narrow * narrow + narrow * d + d * d
        if volume <= 0 or squares == 0:  # less than a float can tell, in a cup that ends in a point
            return 0.0
        z = volume / (_FRUSTUM * squares)
        return min(z, self.height)  # rounding must not leave the layer


@dataclass(frozen=True, slots=True)
class _Cubic:
    """One PCHIP piece: volume = z (c1 + z (c2 + z c3)) over ``height`` mm, never falling."""

    height: float
    c1: float
    c2: float
    c3: float
    volume: float

    def volume_below(self, z: float) -> float:
        return z * (self.c1 + z * (self.c2 + z * self.c3))

    def area(self, z: float) -> float:
        return 1000.0 * max(0.0, self.c1 + z * (2 * self.c2 + z * 3 * self.c3))

    def height_of(self, volume: float) -> float:
        return largest_within(lambda z: self.volume_below(z) - volume, 0.0, self.height)


@dataclass(frozen=True, slots=True)
class Cup:
    """The inside of a cup. Make one with :func:`frustum`, :func:`profile` or :func:`calibration`.

    ``points`` are (height mm, diameter mm), or (height mm, ml) for a calibration.
    ``rim_height_mm`` is the inner height H, ``brimful_ml`` the volume V(H).
    """

    kind: CupKind
    points: Points
    rim_height_mm: float = field(compare=False)
    brimful_ml: float = field(compare=False)
    _floors_mm: tuple[float, ...] = field(compare=False, repr=False)
    _floors_ml: tuple[float, ...] = field(compare=False, repr=False)
    _pieces: tuple[_Frustum | _Cubic, ...] = field(compare=False, repr=False)

    def volume_ml(self, height_mm: float) -> float:
        """V(z): ml below ``height_mm`` (0 to the rim)."""
        index, above = self._piece_at(height_mm)
        return self._floors_ml[index] + self._pieces[index].volume_below(above)

    def height_mm(self, volume_ml: float) -> float:
        """The lowest height at which the empty cup holds ``volume_ml`` (0 to brimful)."""
        if not 0.0 <= volume_ml <= self.brimful_ml:  # so written that NaN is refused as well
            self._checked_ml("volume_ml", volume_ml)
            return self.rim_height_mm
        index = max(0, bisect_left(self._floors_ml, volume_ml) - 1)
        piece = self._pieces[index]
        rest = volume_ml - self._floors_ml[index]
        if rest >= piece.volume > 0:
            return self._floors_mm[index] + piece.height
        return self._floors_mm[index] + piece.height_of(rest)

    def area_mm2(self, height_mm: float) -> float:
        """A(z): inner cross-section; at a diameter step that of the upper layer."""
        index, above = self._piece_at(height_mm)
        return self._pieces[index].area(above)

    def diameter_mm(self, height_mm: float) -> float | None:
        """Inner diameter at ``height_mm``; None for a calibration, whose shape is not known."""
        area_mm2 = self.area_mm2(height_mm)
        return None if self.kind == "calibration" else math.sqrt(area_mm2 / _QUARTER_PI)

    def reading_above(self, volume_ml: float, rise_mm: float) -> float:
        """The reading ``rise_mm`` over another. Above the rim as if its sides went on upright, with
        the mean area where that is more: a pour calibration may end in a flat slope."""
        under_ml = min(volume_ml, self.brimful_ml)
        rim_mm = self.rim_height_mm
        height_mm = self.height_mm(under_ml) + non_negative("rise_mm", rise_mm)
        if volume_ml <= self.brimful_ml and height_mm <= rim_mm:
            return self.volume_ml(height_mm)
        over_mm = rise_mm if volume_ml > self.brimful_ml else height_mm - rim_mm
        area_mm2 = max(self.area_mm2(rim_mm), 1000.0 * self.brimful_ml / rim_mm)
        return max(volume_ml, self.brimful_ml) + over_mm * area_mm2 / 1000.0

    def working_ml(
        self, *, headspace_mm: float | None = None, headspace_ml: float | None = None
    ) -> float:
        """Working capacity V_w = V(H - headspace_mm), or brimful less ``headspace_ml``.

        Without either it is brimful. A headspace below 0 or above the whole cup is refused.
        """
        if headspace_mm is not None and headspace_ml is not None:
            raise FigureError("headspace_ml", headspace_ml, "give mm or ml, not both")
        if headspace_ml is not None:
            if non_negative("headspace_ml", headspace_ml) > self.brimful_ml:
                raise FigureError("headspace_ml", headspace_ml, "is more than the cup holds")
            return self.brimful_ml - headspace_ml
        if headspace_mm is None:
            return self.brimful_ml
        if non_negative("headspace_mm", headspace_mm) > self.rim_height_mm:
            raise FigureError("headspace_mm", headspace_mm, "is more than the height of the cup")
        return self.volume_ml(self.rim_height_mm - headspace_mm)

    def checked_working_ml(self, working_ml: float | None) -> float:
        """``working_ml``, or brimful for None; above the rim it is refused."""
        return self.brimful_ml if working_ml is None else self._checked_ml("working_ml", working_ml)

    def profile_points(self) -> Points:
        """(height mm, diameter mm) corners for a drawing.

        A calibration gives the diameters of round cross-sections with the mean area between its
        rows: two points per row, so it draws as the stack of cylinders that was poured.
        """
        if self.kind != "calibration":
            return self.points
        corners: list[tuple[float, float]] = []
        for floor, piece in zip(self._floors_mm, self._pieces, strict=True):
            diameter = math.sqrt(1000.0 * piece.volume / piece.height / _QUARTER_PI)
            corners += [(floor, diameter), (floor + piece.height, diameter)]
        return tuple(corners)

    def _checked_ml(self, name: str, volume_ml: float) -> float:
        if non_negative(name, volume_ml) > self.brimful_ml + FIT_TOLERANCE_ML:
            reason = f"the cup holds {self.brimful_ml:.3f} ml to the rim"
            raise AboveRimError(name, volume_ml, reason)
        return volume_ml

    def _piece_at(self, height_mm: float) -> tuple[int, float]:
        """The layer at a height, and the height above its floor."""
        if not 0.0 <= height_mm <= self.rim_height_mm:
            non_negative("height_mm", height_mm)
            reason = f"the rim is at {self.rim_height_mm:.3f} mm"
            raise AboveRimError("height_mm", height_mm, reason)
        index = bisect_right(self._floors_mm, height_mm) - 1
        return index, height_mm - self._floors_mm[index]


def frustum(base_mm: float, rim_mm: float, height_mm: float) -> Cup:
    """A cup with straight sides from inner floor diameter to inner rim diameter.

    Straight, inverted (base wider than rim) and pointed (base 0) cups are legal.
    V(z) = pi z / 12 (d0^2 + d0 d + d^2).
    """
    non_negative("base_mm", base_mm)
    positive("rim_mm", rim_mm)
    positive("height_mm", height_mm)
    return _stack("frustum", ((0.0, float(base_mm)), (float(height_mm), float(rim_mm))))


def profile(points: Iterable[Sequence[float]]) -> Cup:
    """A cup of stacked frusta through (height mm, diameter mm) points, from height 0 to the rim.

    Heights never fall; two points of equal height are a layer of no height (a diameter step).
    """
    table = _pairs(points, "diameter")
    if table[0][0] != 0:
        raise FigureError("points[0].height", table[0][0], "a profile starts at height 0")
    for number, (height, diameter) in enumerate(table):
        if number and height < table[number - 1][0]:
            raise FigureError(f"points[{number}].height", height, "heights must not decrease")
        non_negative(f"points[{number}].diameter", diameter)
    for column, last in zip(("height", "diameter"), table[-1], strict=True):
        positive(f"points[{len(table) - 1}].{column}", last)
    return _stack("profile", table)


def calibration(points: Iterable[Sequence[float]]) -> Cup:
    """A cup known by pouring: (height mm, ml) rows, both strictly increasing, the last at the rim.

    (0, 0) is put in front if absent. Between the rows runs the monotone cubic of F. N. Fritsch and
    J. Butland (1984), exactly as ``scipy.interpolate.PchipInterpolator``: weighted harmonic mean
    slopes inside, one-sided three-point slopes at the ends, a straight line for two points.
    """
    table = _pairs(points, "volume", least=1)
    if table[0] != (0.0, 0.0):
        table = ((0.0, 0.0), *table)
    if len(table) < 2:
        raise FigureError("points", table, "needs a row above the floor")
    heights, volumes = zip(*table, strict=True)
    for column, values in (("height", heights), ("volume", volumes)):
        for number, (below, above) in enumerate(pairwise(values), start=1):
            if above <= below:
                raise FigureError(f"points[{number}].{column}", above, "must increase strictly")
    pieces = []
    slopes = _pchip_slopes(heights, volumes)
    for (h0, v0, s0), (h1, v1, s1) in pairwise(zip(heights, volumes, slopes, strict=True)):
        width, rise = h1 - h0, v1 - v0
        secant = rise / width
        c2, c3 = (3 * secant - 2 * s0 - s1) / width, (s0 + s1 - 2 * secant) / (width * width)
        pieces.append(_Cubic(width, s0, c2, c3, rise))
    floors = heights[:-1], volumes[:-1]
    return Cup("calibration", table, heights[-1], volumes[-1], *floors, tuple(pieces))


def _pairs(points: Iterable[Sequence[float]], second: str, least: int = 2) -> Points:
    if not isinstance(points, Iterable):
        raise FigureError("points", points, f"must be rows of (height, {second})")
    table = []
    for number, point in enumerate(points):
        name = f"points[{number}]"
        if not hasattr(point, "__len__") or len(point) != 2:
            raise FigureError(name, point, f"must be (height, {second})")
        table.append((finite(f"{name}.height", point[0]), finite(f"{name}.{second}", point[1])))
    if len(table) < least:
        raise FigureError("points", tuple(table), f"needs at least {least} points")
    return tuple(table)


def _stack(kind: CupKind, table: Points) -> Cup:
    """Frusta through the points; layers of no volume only move the next layer's floor."""
    floors_mm, floors_ml, pieces = [], [], []
    total = 0.0
    for (below, d0), (above, d1) in pairwise(table):
        height = above - below
        volume = _FRUSTUM * height * (d0 * d0 + d0 * d1 + d1 * d1)
        if height > 0:
            floors_mm.append(below)
            floors_ml.append(total)
            pieces.append(_Frustum(height, d0, d1, (d1 - d0) / height, volume))
            total += volume
    if total <= 0:
        raise FigureError("points", table, "the cup holds nothing")
    floors = tuple(floors_mm), tuple(floors_ml)
    return Cup(kind, table, table[-1][0], total, *floors, tuple(pieces))


def _pchip_slopes(x: Sequence[float], y: Sequence[float]) -> list[float]:
    """Slopes at the rows of a strictly increasing table (Fritsch-Butland, as in scipy)."""
    width = [b - a for a, b in pairwise(x)]
    secant = [(b - a) / w for (a, b), w in zip(pairwise(y), width, strict=True)]
    if len(secant) == 1:
        return [secant[0], secant[0]]
    slopes = [_end_slope(width[0], width[1], secant[0], secant[1])]
    for k in range(1, len(secant)):
        w1, w2 = 2 * width[k] + width[k - 1], width[k] + 2 * width[k - 1]
        slopes.append((w1 + w2) / (w1 / secant[k - 1] + w2 / secant[k]))
    slopes.append(_end_slope(width[-1], width[-2], secant[-1], secant[-2]))
    return slopes


def _end_slope(near: float, far: float, near_secant: float, far_secant: float) -> float:
    """One-sided three-point slope, held at 0 where it would turn down (secants are positive)."""
    slope = ((2 * near + far) * near_secant - near * far_secant) / (near + far)
    return max(0.0, slope)
