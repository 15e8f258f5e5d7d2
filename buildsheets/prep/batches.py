"""A batch and a factor go in; its parts, volumes, yield, loss, loads and portions come out.

Batch arithmetic of fill model section 6, carried through nested batches. What cannot be known
because a density is missing stays ``None`` and is named in ``missing``; it is never guessed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from buildsheets.cup.errors import positive
from buildsheets.menu.model import (
    AddStep,
    Amount,
    Batch,
    BatchPart,
    Component,
    CupSize,
    Ingredient,
    Menu,
)
from buildsheets.prep.yields import bowl_loads, whole_above, whole_below

Item = Ingredient | Batch


def to_step(value: float, step: float) -> float:
    """``value`` at the nearest multiple of ``step``, halves up, never rounded away to nothing."""
    exact = Decimal(repr(value)) / Decimal(repr(positive("step", step)))
    steps = exact.quantize(Decimal(1), ROUND_HALF_UP)
    return float(max(steps, Decimal(1 if value > 0 else 0)) * Decimal(repr(step)))


def scale_step_g(menu: Menu) -> float:
    """The smallest step in grams of any scale among the shop's tools; 1 g where it lists none."""
    steps = [t.step for t in menu.tools.values() if t.kind == "scale" and t.unit == "g"]
    return min(steps, default=1.0)


@dataclass(frozen=True, slots=True)
class Packs:
    """A need met with whole packs; need, pack and what is left over in the pack's unit."""

    need: float
    unit: str
    pack: float
    usable: float  # of one pack
    count: int
    left_over: float

    @property
    def exact(self) -> float:
        """The need in packs, uneven."""
        return self.need / self.usable


@dataclass(frozen=True, slots=True)
class PartFigure:
    """One part at a factor: exact grams, grams to the scale's step, ml if known, packs."""

    part: BatchPart
    exact_g: float
    weigh_g: float
    volume_ml: float | None
    share: float  # of the mass of all parts
    packs: Packs | None

    @property
    def error_share(self) -> float:
        """What rounding to the scale's step changes, as a share of the exact amount."""
        return 0.0 if self.exact_g == 0 else (self.weigh_g - self.exact_g) / self.exact_g


@dataclass(frozen=True, slots=True)
class BatchFigure:
    """A batch at a factor.

    ``finished`` is after cooking and before the bowl's loss, ``whipped_ml`` with air, ``yield_*``
    what can be served. ``loss_g`` is parts less yield: positive for what leaves, pot and bowl
    keep, negative for water taken up. ``basis`` is "measured", "factor" or "none" (the sum of
    the parts). ``density_g_ml`` is unaerated, ``foam_density_g_ml`` as served.
    """

    batch: Batch
    factor: float
    parts: tuple[PartFigure, ...]
    parts_g: float
    finished_g: float | None
    unaerated_ml: float | None
    whipped_ml: float | None
    yield_g: float | None
    yield_ml: float | None
    loss_g: float | None
    density_g_ml: float | None
    foam_density_g_ml: float | None
    basis: str
    missing: tuple[Item, ...]

    def share_of(self, mass_g: float, volume_ml: float | None) -> float | None:
        """The share of this batch's yield that an amount takes: by mass if known, else by ml."""
        if self.yield_g:
            return mass_g / self.yield_g
        return volume_ml / self.yield_ml if self.yield_ml and volume_ml is not None else None


def density_of(item: Item) -> float | None:
    """Density as served, g/ml: an ingredient's own, a batch's with its air."""
    if isinstance(item, Ingredient):
        return item.density_g_ml
    return figure_batch(item).foam_density_g_ml


def volume_of(part: BatchPart) -> float | None:
    """Volume of a part in ml: as written, else mass over density, else unknown."""
    if part.volume_ml is not None:
        return part.volume_ml
    density = density_of(part.item)
    return None if density is None else part.mass_g / density


def pack_need(item: Item, mass_g: float, volume_ml: float | None = None) -> Packs | None:
    """``mass_g`` of an ingredient in whole packs; ``None`` without a pack or a way to its unit."""
    if not isinstance(item, Ingredient) or item.pack is None:
        return None
    pack = item.pack
    usable = positive("pack quantity", pack.quantity) * positive("usable share", pack.usable_share)
    need: float | None = mass_g
    if pack.unit == "ml":
        need = volume_ml
        if need is None and item.density_g_ml is not None:
            need = mass_g / item.density_g_ml
    if need is None:
        return None
    count = whole_above(need / usable)
    return Packs(need, pack.unit, pack.quantity, usable, count, max(0.0, count * usable - need))


def pack_grams(item: Item) -> float | None:
    """Usable grams of one pack; ``None`` without a pack or a density where it is in ml."""
    if not isinstance(item, Ingredient) or item.pack is None:
        return None
    usable = item.pack.quantity * item.pack.usable_share
    if item.pack.unit == "g":
        return usable
    return None if item.density_g_ml is None else usable * item.density_g_ml


def figure_batch(batch: Batch, factor: float = 1.0, step_g: float = 1.0) -> BatchFigure:
    """Figure a batch at ``factor``, weighing to ``step_g``.

    A measured yield overrides the factor. A batch's own density overrides the parts'; parts
    give a density only when each of them has one. Raises :class:`FigureError` for a factor that
    is not above 0.
    """
    positive("factor", factor)
    parts_g = sum(part.mass_g for part in batch.parts)
    volumes = [volume_of(part) for part in batch.parts]
    density, missing = _density(batch, parts_g, volumes)
    air = 1.0 + batch.overrun_pct / 100.0
    kept = 1.0 - batch.loss_share
    yield_g, yield_ml = batch.measured_yield_g, batch.measured_yield_ml
    if yield_g is not None and yield_ml is not None:
        density = yield_g / yield_ml * air
    if yield_g is None:
        if yield_ml is None:
            yield_g = parts_g * batch.yield_factor * kept
        elif density is not None:
            yield_g = yield_ml / air * density
    if yield_ml is None and density is not None and yield_g is not None:
        yield_ml = yield_g / density * air
    finished_g = None if yield_g is None or kept <= 0 else yield_g / kept
    whipped = None if yield_ml is None or kept <= 0 else yield_ml / kept
    unaerated = None if whipped is None else whipped / air
    return BatchFigure(
        batch=batch,
        factor=factor,
        parts=tuple(
            _part(part, ml, factor, step_g, parts_g)
            for part, ml in zip(batch.parts, volumes, strict=True)
        ),
        parts_g=parts_g * factor,
        finished_g=_times(finished_g, factor),
        unaerated_ml=_times(unaerated, factor),
        whipped_ml=_times(whipped, factor),
        yield_g=_times(yield_g, factor),
        yield_ml=_times(yield_ml, factor),
        loss_g=None if yield_g is None else (parts_g - yield_g) * factor,
        density_g_ml=density,
        foam_density_g_ml=None if density is None else density / air,
        basis=_basis(batch),
        missing=missing if density is None else (),
    )


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _basis(batch: Batch) -> str:
    if batch.measured_yield_g is not None or batch.measured_yield_ml is not None:
        return "measured"
    return "factor" if batch.yield_factor != 1.0 or batch.loss_share > 0 else "none"


def _density(
    batch: Batch, parts_g: float, volumes: Sequence[float | None]
) -> tuple[float | None, tuple[Item, ...]]:
    if batch.density_g_ml is not None:
        return batch.density_g_ml, ()
    missing = tuple(p.item for p, ml in zip(batch.parts, volumes, strict=True) if ml is None)
    total = sum(ml for ml in volumes if ml is not None)
    return (None, missing) if missing or total <= 0 else (parts_g / total, ())


def _part(
    part: BatchPart, ml: float | None, factor: float, step_g: float, parts_g: float
) -> PartFigure:
    exact = part.mass_g * factor
    volume = _times(ml, factor)
    return PartFigure(
        part=part,
        exact_g=exact,
        weigh_g=to_step(exact, step_g),
        volume_ml=volume,
        share=part.mass_g / parts_g if parts_g else 0.0,
        packs=pack_need(part.item, exact, volume),
    )


@dataclass(frozen=True, slots=True)
class BowlCheck:
    """Whether the whipped volume fits the bowl: in how many loads, and the most in one."""

    whipped_ml: float
    room_ml: float  # bowl x fill share
    loads: int
    per_load_ml: float
    largest_factor: float  # made in one load

    @property
    def fits(self) -> bool:
        """Whether one load is enough."""
        return self.loads <= 1


def bowl_check(figure: BatchFigure) -> BowlCheck | None:
    """The bowl check with the EXPANDED volume; ``None`` without a bowl or a known volume."""
    bowl = figure.batch.bowl_ml
    if bowl is None or figure.whipped_ml is None:
        return None
    held = bowl_loads(figure.whipped_ml, bowl_ml=bowl, fill=figure.batch.bowl_fill_share)
    loads = max(1, held.loads)
    return BowlCheck(
        figure.whipped_ml,
        held.usable_ml,
        loads,
        figure.whipped_ml / loads,
        figure.factor * held.largest_scale,
    )


@dataclass(frozen=True, slots=True)
class Portion:
    """How many servings of one component in one cup a batch gives, and what is left over."""

    component: Component
    cup: CupSize
    mass_g: float
    volume_ml: float
    drinks: tuple[str, ...]  # names of what uses it: drink ids, add-on ids
    count: int
    left_over_g: float | None


def portions(
    menu: Menu, figure: BatchFigure, poured_g: Mapping[tuple[str, str, str], float] | None = None
) -> tuple[Portion, ...]:
    """Portions per component, cup and amount, over the drinks and add-ons that use the batch.

    ``poured_g`` gives the grams poured to a line as (drink id, cup id, component id): a line has
    no amount of its own until a serving is figured.
    """
    found: dict[tuple[str, str, float], list[str]] = {}
    sizes: dict[tuple[str, str, float], tuple[Component, CupSize, float, float]] = {}
    for component, cup, mass_g, volume_ml, user in _uses(menu, figure.batch, poured_g or {}):
        key = (component.id, cup.id, round(mass_g, 6))
        found.setdefault(key, []).append(user)
        sizes.setdefault(key, (component, cup, mass_g, volume_ml))
    result = []
    for key, users in found.items():
        component, cup, mass_g, volume_ml = sizes[key]
        share = figure.share_of(mass_g, volume_ml)
        if share is None or share <= 0:
            continue
        count = whole_below(1.0 / share)
        left = None if figure.yield_g is None else max(0.0, figure.yield_g - count * mass_g)
        names = tuple(dict.fromkeys(users))
        result.append(Portion(component, cup, mass_g, volume_ml, names, count, left))
    return tuple(result)


def _uses(
    menu: Menu, batch: Batch, poured_g: Mapping[tuple[str, str, str], float]
) -> Iterable[tuple[Component, CupSize, float, float, str]]:
    for drink in menu.drinks.values():
        for step in drink.steps:
            if not isinstance(step, AddStep) or not _from(step.component, batch):
                continue
            for cup in drink.cups:
                amount = step.amounts.get(cup.id)
                if isinstance(amount, Amount):
                    yield step.component, cup, amount.mass_g, amount.volume_ml, drink.id
                elif amount is not None:
                    grams = poured_g.get((drink.id, cup.id, step.component.id), 0.0)
                    if grams > 0:
                        ml = grams / step.component.density_g_ml
                        yield step.component, cup, grams, ml, drink.id
    for add_on in menu.add_ons.values():
        if _from(add_on.component, batch):
            for cup_id, amount in add_on.amounts.items():
                if cup_id in menu.cups:
                    cup = menu.cups[cup_id]
                    yield add_on.component, cup, amount.mass_g, amount.volume_ml, add_on.id


def _from(component: Component, batch: Batch) -> bool:
    return isinstance(component.source, Batch) and component.source.id == batch.id


def brix_of(item: Item) -> float | None:
    """Degrees Brix (g of sugar in 100 g): an ingredient's own, a batch's by the mass of its parts.

    100 * sum(m w) / finished mass; ``None`` while any part's is unknown. Without a stated Brix an
    ingredient's sugars per 100 g stand in.
    """
    if isinstance(item, Ingredient):
        if item.brix is not None:
            return item.brix
        return _sugars_per_100_g(item)
    figure = figure_batch(item)
    sugar = 0.0
    for part in item.parts:
        brix = brix_of(part.item)
        if brix is None:
            return None
        sugar += part.mass_g * brix / 100.0
    return 100.0 * sugar / figure.finished_g if figure.finished_g else None


def _sugars_per_100_g(item: Ingredient) -> float | None:
    facts = item.nutrition
    if facts is None or facts.sugars_g is None:
        return None
    if facts.per == "100 g":
        return facts.sugars_g
    return None if item.density_g_ml is None else facts.sugars_g / item.density_g_ml


def brew_ratio(batch: Batch) -> float | None:
    """Grams of everything else for 1 g of the leaf or grounds named as ``brew``: 20 for 1:20."""
    if batch.brew is None:
        return None
    leaf = sum(part.mass_g for part in batch.parts if part.item.id == batch.brew.id)
    rest = sum(part.mass_g for part in batch.parts) - leaf
    return rest / leaf if leaf > 0 else None


def base_ingredients(item: Item, mass_g: float = 1.0) -> dict[str, float]:
    """Grams of each bought ingredient, by id, that ``mass_g`` of an item's YIELD took.

    Raises :class:`FigureError` where a nested batch's yield in grams is unknown.
    """
    if isinstance(item, Ingredient):
        return {item.id: mass_g}
    figure = figure_batch(item)
    per = mass_g / positive(f"yield of {item.id} in g", figure.yield_g or 0.0)
    needed: dict[str, float] = {}
    for part in item.parts:
        for id_, grams in base_ingredients(part.item, part.mass_g * per).items():
            needed[id_] = needed.get(id_, 0.0) + grams
    return needed
