"""Contents and a line on the cup go in; the volume that fills up to the line comes out.

Fill model section 3. Bed voids, resting, floating and sunk ice are each solved in closed form,
because the density of the mixed liquid, and so the float of the ice, changes with the pour.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeAlias

from buildsheets.cup.contents import Contents, Item, Liquid, add_up, levels, lifts
from buildsheets.cup.cup import FIT_TOLERANCE_ML, Cup
from buildsheets.cup.errors import AboveRimError, FigureError, non_negative, positive
from buildsheets.cup.fill import FillState, contents_state


@dataclass(frozen=True, slots=True)
class ToLine:
    """A step that fills up to a line with a liquid of ``density``: give ``line_ml`` (ml of water in
    the empty cup) or ``line_mm`` (height above the inner floor)."""

    density: float
    line_ml: float | None = None
    line_mm: float | None = None

    def __post_init__(self) -> None:
        positive("density", self.density)
        if (self.line_ml is None) == (self.line_mm is None):
            raise FigureError("line_ml", self.line_ml, "give the line in ml or in mm, one of them")
        for name, line in (("line_ml", self.line_ml), ("line_mm", self.line_mm)):
            if line is not None:
                non_negative(name, line)

    def reading_ml(self, cup: Cup) -> float:
        """The line as a water reading of ``cup``; a line above the rim is refused."""
        if self.line_ml is None:
            line_mm = self.line_mm or 0.0
            if line_mm > cup.rim_height_mm:
                raise AboveRimError("line_mm", line_mm, "the line is above the rim")
            return cup.volume_ml(line_mm)
        if self.line_ml > cup.brimful_ml + FIT_TOLERANCE_ML:
            raise AboveRimError("line_ml", self.line_ml, "the line is above the rim")
        return self.line_ml


Step: TypeAlias = Item | ToLine


@dataclass(frozen=True, slots=True)
class LineFill:
    """``poured_ml`` reaches the line; if the liquid is over it already, nothing is poured and
    ``already_over_ml`` says by how much. ``state`` is that after pouring."""

    poured_ml: float
    already_over_ml: float
    line_ml: float
    line_mm: float
    state: FillState


def fill_to_line(
    cup: Cup,
    items: Iterable[Step],
    *,
    density: float,
    line_ml: float | None = None,
    line_mm: float | None = None,
    working_ml: float | None = None,
) -> LineFill:
    """Fill ``cup``, holding ``items``, up to a line with a liquid of ``density`` g/ml.

    Line steps among the items pour first.
    """
    line = ToLine(density, line_ml, line_mm).reading_ml(cup)
    listed = resolve_lines(cup, items)
    poured, over = poured_to(add_up(listed), line, density)
    state = contents_state(cup, (*listed, Liquid(poured, density)), working_ml)
    height = line_mm if line_mm is not None else cup.height_mm(min(line, cup.brimful_ml))
    return LineFill(poured, over, line, height, state)


def resolve_lines(cup: Cup, steps: Iterable[Step]) -> tuple[Item, ...]:
    """The steps with every line step replaced by the volume that it pours."""
    listed = tuple(steps)
    for step in listed:
        if not isinstance(step, Step):
            raise FigureError("steps", step, "is neither an item nor a line step")
    return pour_lines(
        step if not isinstance(step, ToLine) else (step.reading_ml(cup), step.density)
        for step in listed
    )


def pour_lines(steps: Iterable[Item | tuple[float, float]]) -> tuple[Item, ...]:
    """As :func:`resolve_lines`, line steps given as (water reading ml, density)."""
    poured: list[Item] = []
    contents = Contents()
    for step in steps:
        if isinstance(step, tuple):
            line, density = step
            item: Item = Liquid(poured_to(contents, line, density)[0], density)
        else:
            item = step
        poured.append(item)
        contents = add_up((item,), contents)
    return tuple(poured)


def poured_to(contents: Contents, line: float, density: float) -> tuple[float, float]:
    """(ml poured, ml already over) to bring the liquid of ``contents`` to the reading ``line``.

    Should a much denser pour make the ice rise so fast that the liquid level passes the line
    twice, the first time counts.
    """
    now = levels(contents).liquid
    if now >= line:
        return 0.0, now - line
    return max(0.0, _liquid_at(contents, line, density) - contents.liquid_ml), 0.0


def _liquid_at(contents: Contents, line: float, density: float) -> float:
    """All the liquid, old and poured, that stands at ``line``."""
    bed_top = contents.bed_ml
    if line <= bed_top:
        return _voids_below(contents, line)
    above = line - bed_top
    bulk, solid = contents.ice_bulk_ml, contents.ice_solid_ml
    if bulk <= 0:
        return contents.bed_void_ml + above
    # Resting ice: the liquid fills the ice voids up to the line, unless it lifts the ice first.
    resting = contents.bed_void_ml + above * (1 - solid / bulk)
    mixed = (contents.liquid_g + density * (resting - contents.liquid_ml)) / resting
    ice_density = contents.ice_g / solid
    if above <= min(1.0, ice_density / mixed) * bulk:
        return resting
    # Floating ice: x + M / rho(x) = t with rho(x) = density + k / x, a quadratic in x.
    t = line - (bed_top - contents.bed_void_ml)
    k = contents.liquid_g - density * contents.liquid_ml
    b = k + contents.ice_g - density * t
    root = math.sqrt(max(0.0, b * b + 4 * density * t * k))
    floating = (root - b) / (2 * density) if b <= 0 else 2 * t * k / (b + root)
    if floating > 0 and lifts(density + k / floating, ice_density):
        return floating
    return t - solid


def _voids_below(contents: Contents, line: float) -> float:
    voids = 0.0
    for bulk, void in contents.beds:
        if line <= bulk:
            return voids + line * void
        voids += bulk * void
        line -= bulk
    return voids
