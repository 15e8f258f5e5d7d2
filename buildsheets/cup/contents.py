"""Items with their amounts go in; the equilibrium levels of what they make come out, and the pour
that reaches a level.

Fill model section 2, steps 1 to 4, and section 3. Levels are water readings: ml of water in the
empty cup. In them the physics does not depend on the shape of the cup, so no cup appears here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from operator import add
from typing import Literal, NamedTuple

from buildsheets.cup.errors import FigureError, positive
from buildsheets.cup.items import Bed, Cap, Dusted, Ice, Item, Liquid, Slice, Swimmer
from buildsheets.cup.search import largest_within
from buildsheets.cup.strata import Strata, among_ice_ml, poured_on

IceRegime = Literal["none", "rests", "floats", "sunk"]
Verdict = Literal["fits", "fluid_fits", "lid_fits", "simple_rule_fits"]


class BedLayer(NamedTuple):
    """One settled layer: its bulk in ml and the share of it that is voids."""

    bulk_ml: float
    void: float


class Contents(NamedTuple):
    """The sums that the levels depend on (a named tuple: it is made a million times).

    ``heat_g_c`` and ``cold_g_c``, g times degC of the liquid and of the ice, serve a step that
    chills; they are 0 where no temperature was given. ``strata`` are the liquids of a drink in
    layers, () of one that mixes.
    """

    liquid_ml: float = 0.0
    liquid_g: float = 0.0
    beds: tuple[BedLayer, ...] = ()
    bed_ml: float = 0.0
    bed_void_ml: float = 0.0
    ice_g: float = 0.0
    ice_solid_ml: float = 0.0
    ice_bulk_ml: float = 0.0
    cap_ml: float = 0.0
    heat_g_c: float = 0.0
    cold_g_c: float = 0.0
    strata: Strata = ()
    swims_g: float = 0.0
    swims_solid_ml: float = 0.0
    swims_bulk_ml: float = 0.0
    held_ml: float = 0.0

    @property
    def has_ice(self) -> bool:
        return self.ice_bulk_ml > 0

    @property
    def afloat_ml(self) -> float:
        """Bulk of all that may float: ice, and pieces that swim."""
        return self.ice_bulk_ml + self.swims_bulk_ml

    @property
    def afloat_solid_ml(self) -> float:
        """The same without the gaps."""
        return self.ice_solid_ml + self.swims_solid_ml

    @property
    def sum_ml(self) -> float:
        """S, the sum of true volumes."""
        solid_ml = self.bed_ml - self.bed_void_ml + self.afloat_solid_ml + self.held_ml
        return self.liquid_ml + solid_ml + self.cap_ml

    def plus(
        self, item: Item, amount: float, temperature_c: float = 0.0, layered: bool = False
    ) -> Contents:
        """These contents and ``amount`` more of an item: ml of a liquid, g of all else. Liquids
        stay apart where they do already, or are ``layered``."""
        (
            liquid_ml, liquid_g, beds, bed_ml, void_ml, ice_g, solid_ml, bulk_ml, cap_ml, heat,
            cold, strata, swims_g, swims_solid_ml, swims_bulk_ml, held_ml,
        ) = self  # fmt: skip
        if isinstance(item, Liquid):
            mass = amount * item.density
            if layered or strata:
                strata = poured_on(strata, amount, mass)
            liquid_ml += amount
            liquid_g += mass
            cap_ml += amount * item.air_share
            heat += mass * temperature_c
        elif isinstance(item, Bed):
            layer = amount / item.bulk_density
            if layer > 0:
                void = 1 - item.bulk_density / item.particle_density
                beds = (*beds, BedLayer(layer, void))
                bed_ml += layer
                void_ml += layer * void
        elif isinstance(item, Ice):
            solid = amount / item.density
            ice_g += amount
            solid_ml += solid
            bulk_ml += solid / item.packing
            cold += amount * temperature_c
        elif isinstance(item, Cap):
            cap_ml += amount / item.per_ml
        elif isinstance(item, Swimmer):
            return self._replace(
                swims_g=self.swims_g + amount,
                swims_solid_ml=self.swims_solid_ml + amount / item.particle_density,
                swims_bulk_ml=self.swims_bulk_ml + amount / item.bulk_density,
            )
        elif isinstance(item, Slice):
            return self._replace(held_ml=self.held_ml + amount / item.density)
        elif isinstance(item, Dusted):
            return self
        else:
            # Leaving out what is not known here would make a cup look emptier than it is.
            raise FigureError("items", item, "is no item; line steps are poured first")
        return Contents(
            liquid_ml, liquid_g, beds, bed_ml, void_ml, ice_g, solid_ml, bulk_ml, cap_ml, heat,
            cold, strata, swims_g, swims_solid_ml, swims_bulk_ml, held_ml,
        )  # fmt: skip

    def joined(self, other: Contents) -> Contents:
        """These contents with all of the others, whose beds lie on top."""
        return Contents._make(map(add, self, other))


class Levels(NamedTuple):
    """Water readings in ml. Without ice its levels are 0; without a cap so are the cap's."""

    liquid: float
    bed_top: float
    ice_bottom: float
    ice_top: float
    ice_regime: IceRegime
    cap_base: float
    cap_top: float
    top: float

    @property
    def fluid_top(self) -> float:
        """The higher of liquid and cap: what would splash."""
        return max(self.liquid, self.cap_top)

    @property
    def seen(self) -> float:
        """The level that is seen from outside: the cap's top, else the liquid's, else the bed's."""
        return max(self.liquid, self.bed_top, self.cap_top)


def add_up(
    items: Iterable[Item],
    start: Contents = Contents(),  # noqa: B008 (frozen)
    *,
    layered: bool = False,
) -> Contents:
    """The sums of ``items``, on top of ``start``. Beds keep their order, the first at the floor;
    so do liquids that are ``layered``, else they mix."""
    for item in items:
        start = start.plus(item, getattr(item, "amount", 0.0), layered=layered)
    return start


def levels(contents: Contents) -> Levels:
    """The equilibrium levels of ``contents`` (fill model section 2, steps 1 to 4).

    Those of the ice are of all that may float, with the pieces that swim. The ice is one porous
    body of uniform solid share that fills the cross-section: the share of its bulk under the
    surface is the density ratio, and the liquid level obeys Archimedes.
    """
    (
        liquid_ml, liquid_g, beds, bed_top, void_ml, ice_g, solid_ml, bulk_ml, cap_ml, _, _, strata,
        swims_g, swims_solid_ml, swims_bulk_ml, held_ml,
    ) = contents  # fmt: skip
    free = liquid_ml - void_ml
    if swims_bulk_ml > 0:  # one loose heap with the ice
        ice_g += swims_g
        solid_ml += swims_solid_ml
        bulk_ml += swims_bulk_ml
    if free > 0:
        free += held_ml
    regime: IceRegime = "rests" if bulk_ml > 0 else "none"
    ice_bottom = bed_top if bulk_ml > 0 else 0.0
    if free <= 0:
        liquid = _level_in_bed(beds, liquid_ml, bed_top) if free < 0 else bed_top
    elif bulk_ml <= 0:
        liquid = bed_top + free
    else:
        ice_voids = bulk_ml - solid_ml
        liquid_density, ice_density = liquid_g / liquid_ml, ice_g / solid_ml
        floats = lifts(liquid_density, ice_density)
        ratio = ice_density / liquid_density if floats else 1.0
        pushed_ml = ice_g / liquid_density
        if len(strata) > 1:  # the ice floats in the upper ones
            among_ml = among_ice_ml(strata, ice_g, solid_ml / bulk_ml)
            if among_ml is not None:
                ratio = min(1.0, among_ml / ice_voids)
                pushed_ml = ratio * solid_ml
        if free <= ice_voids * ratio:
            liquid = bed_top + free / (ice_voids / bulk_ml)
        elif floats:
            regime = "floats"
            liquid = bed_top + free + pushed_ml
            ice_bottom = max(bed_top, liquid - ratio * bulk_ml)
        else:
            regime = "sunk"
            liquid = bed_top + free + solid_ml
    ice_top = ice_bottom + bulk_ml
    cap_base = cap_top = 0.0
    if cap_ml > 0:
        cap_base = max(liquid, bed_top)
        emergent = max(0.0, ice_top - cap_base) if bulk_ml > 0 else 0.0
        packing = solid_ml / bulk_ml if bulk_ml > 0 else 0.0
        if cap_ml <= (1 - packing) * emergent:
            cap_top = cap_base + cap_ml / (1 - packing)
        else:
            cap_top = cap_base + cap_ml + packing * emergent
    top = max(liquid, bed_top, ice_top, cap_top)
    return Levels(liquid, bed_top, ice_bottom, ice_top, regime, cap_base, cap_top, top)


def lifts(liquid_density: float, ice_density: float) -> bool:
    """Whether the liquid is denser than the ice, beyond the rounding of sums: equal ones do not
    float, and at that point the place of the ice jumps."""
    return liquid_density > ice_density * (1 + 1e-12)


def _level_in_bed(beds: tuple[BedLayer, ...], liquid_ml: float, bed_top: float) -> float:
    level = 0.0
    for bulk_ml, void in beds:
        if liquid_ml <= bulk_ml * void:
            return level + liquid_ml / void
        liquid_ml -= bulk_ml * void
        level += bulk_ml
    return bed_top


def liquid_to_float_ml(items: Iterable[Item], liquid_density: float) -> float | None:
    """The total ml of liquid of ``liquid_density`` at which the ice of ``items`` starts to float.

    W + (1 - packing) r V_b; None without ice, or in a liquid no denser than the ice.
    """
    return float_threshold_ml(add_up(items), positive("liquid_density", liquid_density))


def float_threshold_ml(contents: Contents, liquid_density: float) -> float | None:
    """As :func:`liquid_to_float_ml`, from sums already made."""
    ice_density = contents.ice_g / contents.ice_solid_ml if contents.has_ice else math.inf
    if not lifts(liquid_density, ice_density):
        return None
    ratio = ice_density / liquid_density
    return contents.bed_void_ml + (contents.ice_bulk_ml - contents.ice_solid_ml) * ratio


def judged_ml(
    verdict: Verdict, contents: Contents, at: Levels | None = None, dome_ml: float = 0.0
) -> float:
    """The reading that a verdict holds against the working capacity.

    ``fits``: the top of all; ``fluid_fits``: of liquid and cap, where ice may stand proud;
    ``lid_fits``: the volume or the solids, where a flat lid presses the ice under;
    ``simple_rule_fits``: the sum of true volumes. ``at`` are the levels, if known already. Under a
    dome a cap may stand ``dome_ml`` over what all else may.
    """
    if verdict == "simple_rule_fits":
        return contents.sum_ml - min(dome_ml, contents.cap_ml)
    if verdict == "lid_fits":
        return max(contents.sum_ml, contents.bed_ml + contents.afloat_ml)
    at = at or levels(contents)
    if dome_ml and verdict == "fits":
        return max(at.liquid, at.bed_top, at.ice_top, at.cap_top - dome_ml)
    return at.top if verdict == "fits" else at.fluid_top


def poured_to(
    contents: Contents, line: float, density: float, now: float | None = None
) -> tuple[float, float]:
    """(ml poured, ml already over) to bring the liquid of ``contents``, which stands at ``now`` if
    that is known already, to the reading ``line``.

    Fill model section 3: bed voids, resting, floating and sunk ice are each solved in closed form,
    because the density of the mixed liquid, and so the float of the ice, changes with the pour.
    Should a much denser pour make the ice rise so fast that the liquid level passes the line
    twice, the first time counts.
    """
    now = levels(contents).liquid if now is None else now
    if now >= line:
        return 0.0, now - line
    if contents.strata:
        return _layered_to(contents, line, density), 0.0
    return max(0.0, _liquid_at(contents, line, density) - contents.liquid_ml), 0.0


def _layered_to(contents: Contents, line: float, density: float) -> float:
    """The pour on liquids that stay apart: the level rises with it, so a search finds it."""
    liquid = Liquid(0.0, density)
    return largest_within(lambda ml: levels(contents.plus(liquid, ml)).liquid - line, 0.0, line)


def _liquid_at(contents: Contents, line: float, density: float) -> float:
    """All the liquid, old and poured, that stands at ``line``."""
    bed_top = contents.bed_ml
    if line <= bed_top:
        return _voids_below(contents, line)
    above = line - bed_top
    bulk, solid, held = contents.afloat_ml, contents.afloat_solid_ml, contents.held_ml
    if bulk <= 0:
        return contents.bed_void_ml + max(0.0, above - held)
    # Resting ice: the liquid fills the ice voids up to the line, unless it lifts the ice first.
    resting = contents.bed_void_ml + max(0.0, above * (1 - solid / bulk) - held)
    mixed = (
        (contents.liquid_g + density * (resting - contents.liquid_ml)) / resting
        if resting
        else density
    )
    afloat_g = contents.ice_g + contents.swims_g
    ice_density = afloat_g / solid
    if above <= min(1.0, ice_density / mixed) * bulk:
        return resting
    # Floating ice: x + M / rho(x) = t with rho(x) = density + k / x, a quadratic in x.
    t = line - (bed_top - contents.bed_void_ml) - held
    k = contents.liquid_g - density * contents.liquid_ml
    b = k + afloat_g - density * t
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
