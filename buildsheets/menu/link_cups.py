"""Cups linked: their written inner measures in, cups with a checked geometry out."""

from __future__ import annotations

from itertools import pairwise

from buildsheets.findings.finding import At, Span
from buildsheets.findings.spelling import listed
from buildsheets.menu.linking import Linker, text, tolerance, written
from buildsheets.menu.model import CupShape, CupSize, Written
from buildsheets.menu.quantity import Quantity
from buildsheets.menu.shapes import Named
from buildsheets.menu.written import WrittenCup, WrittenLevel


def cups(link: Linker, section: Named[WrittenCup]) -> dict[str, CupSize]:
    """Cups with a checked inner geometry; a cup without one is left out after a finding."""
    found: dict[str, CupSize] = {}
    for key, w in section.items.items():
        shape = _shape(link, key, w)
        if shape is None:
            continue
        height = _height_mm(shape)
        headspace = w.headspace.value
        in_mm = headspace.value if headspace.kind == "length" else None
        if headspace.value < 0 or (in_mm is not None and in_mm >= height):
            link.error(
                "CUP04",
                w.headspace.span,
                f"headspace is {w.headspace.raw}; the cup is {height:g} mm high",
                hint="write what must stay empty under the lid, from 0 to less than the cup",
            )
            continue
        if link.positive(w.floor, "the outer floor", zero=True) is None:
            continue
        found[key] = CupSize(
            id=key,
            name=text(w.name),
            shape=shape,
            floor_mm=w.floor.value.value,
            headspace_mm=in_mm,
            headspace_ml=headspace.value if in_mm is None else None,
            declared_brimful_ml=link.positive(w.brimful, "the brimful capacity"),
            lid=w.lid.value,
            hot=bool(w.hot and w.hot.value),
            capacity_tolerance=tolerance(w.capacity_tolerance, None),
            shape_written=_shape_written(w),
            headspace_written=written(w.headspace),
            declared_written=written(w.brimful) if w.brimful else None,
            span=w.span,
        )
    return found


def _shape_written(w: WrittenCup) -> Written:
    """The geometry as one phrase, placed at its first key."""
    if w.profile is not None:
        return Written("profile", w.at("profile"))
    if w.calibration is not None:
        return Written("pour calibration", w.at("calibration"))
    sides = [side.raw for side in (w.base, w.rim, w.height) if side is not None]
    return Written(" / ".join(sides), w.at("base"))


def _shape(link: Linker, key: str, w: WrittenCup) -> CupShape | None:
    frustum = (w.base, w.rim, w.height)
    forms = [
        any(side is not None for side in frustum),
        w.profile is not None,
        w.calibration is not None,
    ]
    if sum(forms) != 1:
        given = "none is written" if not any(forms) else "more than one is written"
        link.error(
            "CUP01",
            w.span,
            f"cup '{key}' needs its inside in exactly one form, and {given}",
            hint="base, rim and height; or profile; or calibration",
        )
        return None
    if w.profile is not None:
        return _points(link, key, w.at("profile"), w.profile, "diameter")
    if w.calibration is not None:
        return _points(link, key, w.at("calibration"), w.calibration, "volume")
    missing = [n for n in ("base", "rim", "height") if getattr(w, n) is None]
    if missing:
        link.error(
            "CUP01",
            w.span,
            f"cup '{key}' lacks its {listed(missing, 'and')}",
            hint="inner diameters at floor and rim, and the inner height",
        )
        return None
    base = link.positive(w.base, "the base", zero=True)
    rim = link.positive(w.rim, "the rim")
    height = link.positive(w.height, "the height")
    if base is None or rim is None or height is None:
        return None
    return CupShape(frustum=(base, rim, height))


def _points(
    link: Linker, key: str, span: Span, levels: tuple[WrittenLevel, ...], other: str
) -> CupShape | None:
    points: list[tuple[float, float]] = []
    for level in levels:
        leaf: At[Quantity] | None = getattr(level, other)
        if leaf is None:
            link.error(
                "CUP02",
                level.span,
                f"this level of cup '{key}' lacks its {other}",
            )
            return None
        points.append((level.height.value.value, leaf.value.value))
    heights = [height for height, _ in points]
    rising = all(a <= b for a, b in pairwise(heights))
    if other == "volume":
        if points and points[0] != (0.0, 0.0):
            points.insert(0, (0.0, 0.0))
        rising = all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(points))
    elif points and heights[0] != 0.0:
        rising = False
    if len(points) < 2 or not rising or points[-1][0] <= 0.0:
        rule = (
            "heights and volumes must both rise from one level to the next"
            if other == "volume"
            else "heights must start at 0 mm and never fall"
        )
        link.error("CUP03", span, f"cup '{key}': {rule}")
        return None
    if other == "diameter" and points[-1][1] <= 0.0:
        link.error("CUP03", span, f"cup '{key}': it is closed at the rim")
        return None
    if other == "volume":
        return CupShape(calibration=tuple(points))
    return CupShape(profile=tuple(points))


def _height_mm(shape: CupShape) -> float:
    if shape.frustum is not None:
        return shape.frustum[2]
    points = shape.profile or shape.calibration or ()
    return points[-1][0]
