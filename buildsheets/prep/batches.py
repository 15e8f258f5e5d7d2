"""A batch and a factor go in; its parts, volumes, yield, loss, loads and portions come out.

Fill model section 6 (its functions are in ``yields``), carried through nested batches. What cannot
be known because a density is missing stays ``None`` and is named in ``missing``, never guessed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal, NamedTuple, TypeAlias

from buildsheets.cup.errors import positive
from buildsheets.cup.holdback import round_up
from buildsheets.cup.steps import made_of
from buildsheets.cup.swaps import swapped
from buildsheets.menu.components import HEAPED
from buildsheets.menu.model import (
    AddStep,
    Amount,
    Batch,
    BatchPart,
    Component,
    CupSize,
    Ingredient,
    Menu,
    Step,
    Tool,
)
from buildsheets.prep.yields import (
    BowlLoads,
    before_loss_ml,
    bowl_loads,
    packs_for,
    portions_from,
    served_ml,
    whole_above,
    whole_below,
)

Item = Ingredient | Batch


class Stored(NamedTuple):
    """What is known of an amount in its container; ``heap_g_ml`` where it lies there as a heap,
    ``weighed`` where all that is taken of it is."""

    mass_g: float | None
    volume_ml: float | None
    heap_g_ml: float | None = None
    weighed: bool = False

    @property
    def room_ml(self) -> float | None:
        """What it takes in its container: of a heap what its grams take, gaps and all."""
        if self.heap_g_ml is None or self.mass_g is None:
            return self.volume_ml
        return self.mass_g / self.heap_g_ml


Poured = Mapping[tuple[str, str, str], float]
"""Grams poured to a line by (drink id, cup id, component id): figured, since none are written."""


Rounding: TypeAlias = Literal["nearest", "up", "down"]
"""Weights go up where so much is asked for, down where no more is there, else to the nearest."""


def to_step(value: float, step: float, rounding: Rounding = "nearest") -> float:
    """``value`` at a multiple of ``step``, halves up, never rounded away to nothing."""
    exact = Decimal(repr(value)) / Decimal(repr(positive("step", step)))
    if rounding == "nearest":
        steps = exact.quantize(Decimal(1), ROUND_HALF_UP)
    else:
        whole = whole_above if rounding == "up" else whole_below
        steps = Decimal(whole(float(exact)))
    return float(max(steps, Decimal(1 if value > 0 else 0)) * Decimal(repr(step)))


def scale_step_g(menu: Menu) -> float:
    """The smallest step in grams of any scale among the shop's tools; 1 g where it lists none."""
    steps = [t.step for t in menu.tools.values() if t.kind == "scale" and t.unit == "g"]
    return min(steps, default=1.0)


@dataclass(frozen=True, slots=True)
class PackNeed:
    """A need met with whole packs; need, pack and what is left over in the pack's unit."""

    need: float
    unit: str
    pack: float
    usable: float  # of one pack
    count: int
    left_over: float


@dataclass(frozen=True, slots=True)
class PartFigure:
    """One part at a factor: exact grams, grams to the scale's step, ml if known."""

    part: BatchPart
    exact_g: float
    weigh_g: float
    rounding: Rounding  # from the one to the other
    volume_ml: float | None
    share: float  # of the mass of all parts
    packs: float | None  # where it is written in packs, to a hundredth

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

    @property
    def loss_share(self) -> float:
        """The loss as a share of the parts; 0 where it is not known."""
        return (self.loss_g or 0.0) / self.parts_g if self.parts_g else 0.0

    def share_of(self, mass_g: float, volume_ml: float | None) -> float | None:
        """The share of this batch's yield that an amount takes: by mass if known, else by ml."""
        if self.yield_g:
            return mass_g / self.yield_g
        return volume_ml / self.yield_ml if self.yield_ml and volume_ml is not None else None


def volume_of(part: BatchPart) -> float | None:
    """Volume of a part in ml: as written, else mass over density (a batch's with its air)."""
    if part.volume_ml is not None:
        return part.volume_ml
    if isinstance(part.item, Batch):
        density = figure_batch(part.item).foam_density_g_ml
    else:
        density = part.item.density_g_ml
    return None if density is None else part.mass_g / density


def pack_need(item: Item, mass_g: float, volume_ml: float | None = None) -> PackNeed | None:
    """``mass_g`` of an ingredient in whole packs; ``None`` without a pack or a way to its unit."""
    if not isinstance(item, Ingredient) or item.pack is None:
        return None
    pack, need = item.pack, mass_g
    if pack.unit == "ml":
        if volume_ml is None and item.density_g_ml is None:
            return None
        need = mass_g / (item.density_g_ml or 1.0) if volume_ml is None else volume_ml
    usable = pack.quantity * pack.usable_share
    return PackNeed(need, pack.unit, pack.quantity, usable, *packs_for(need, usable))


def pack_grams(item: Item) -> float | None:
    """Usable grams of one pack; ``None`` without a pack or a density where it is in ml."""
    if not isinstance(item, Ingredient) or item.pack is None:
        return None
    density = 1.0 if item.pack.unit == "g" else item.density_g_ml
    return None if density is None else item.pack.quantity * item.pack.usable_share * density


def figure_batch(
    batch: Batch, factor: float = 1.0, step_g: float = 1.0, rounding: Rounding = "nearest"
) -> BatchFigure:
    """Figure a batch at ``factor``, weighing to ``step_g``.

    A measured yield overrides the factor. A batch's own density overrides the parts'; parts
    give a density only when each of them has one. Raises :class:`FigureError` for a factor that
    is not above 0.
    """
    positive("factor", factor)
    parts_g = sum(part.mass_g for part in batch.parts)
    ml_of_parts = [volume_of(part) for part in batch.parts]
    density, missing = _density(batch, parts_g, ml_of_parts)
    overrun_pct, loss = batch.overrun_pct, batch.loss_share
    air = 1.0 + overrun_pct / 100.0
    yield_g, yield_ml = batch.measured_yield_g, batch.measured_yield_ml
    if yield_g is not None and yield_ml is not None:
        density = yield_g / yield_ml * air
    elif yield_ml is None:
        yield_g = parts_g * batch.yield_factor * (1.0 - loss) if yield_g is None else yield_g
        yield_ml = None if density is None else served_ml(yield_g, density, overrun_pct)
    elif density is not None:
        yield_g = yield_ml / air * density
    if batch.measured_yield_g is not None or batch.measured_yield_ml is not None:
        basis = "measured"
    else:
        basis = "factor" if batch.yield_factor != 1.0 or loss > 0 else "none"
    unaerated_ml = whipped_ml = finished_g = loss_g = None
    if yield_ml is not None:
        unaerated_ml, whipped_ml = before_loss_ml(yield_ml, overrun_pct, loss)
    if yield_g is not None:
        finished_g, loss_g = yield_g / (1.0 - loss), parts_g - yield_g
    parts = (
        PartFigure(
            part=part,
            exact_g=part.mass_g * factor,
            weigh_g=to_step(part.mass_g * factor, step_g, rounding),
            rounding=rounding,
            volume_ml=_times(ml, factor),
            share=part.mass_g / parts_g if parts_g else 0.0,
            packs=None
            if part.packs is None
            else to_step(float(part.packs) * factor, 0.01, rounding),
        )
        for part, ml in zip(batch.parts, ml_of_parts, strict=True)
    )
    return BatchFigure(
        batch=batch,
        factor=factor,
        parts=tuple(parts),
        parts_g=parts_g * factor,
        finished_g=_times(finished_g, factor),
        unaerated_ml=_times(unaerated_ml, factor),
        whipped_ml=_times(whipped_ml, factor),
        yield_g=_times(yield_g, factor),
        yield_ml=_times(yield_ml, factor),
        loss_g=_times(loss_g, factor),
        density_g_ml=density,
        foam_density_g_ml=None if density is None else density / air,
        basis=basis,
        missing=missing if density is None else (),
    )


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _density(
    batch: Batch, parts_g: float, volumes: Sequence[float | None]
) -> tuple[float | None, tuple[Item, ...]]:
    if batch.density_g_ml is not None:
        return batch.density_g_ml, ()
    missing = tuple(p.item for p, ml in zip(batch.parts, volumes, strict=True) if ml is None)
    total = sum(ml for ml in volumes if ml is not None)
    return (None, missing) if missing or total <= 0 else (parts_g / total, ())


def heap_g_ml(components: Iterable[Component], item: Item) -> float | None:
    """Grams in a ml of the heap of what goes in as loose pieces, settled or swimming, of its
    loosest one; its litres are scooped, stored and bought as a heap. ``None`` of anything else."""
    heaps = (
        component.bulk_density_g_ml
        for component in components
        if component.behaves in HEAPED
        and component.source is not None
        and component.source.id == item.id
    )
    return min((one for one in heaps if one is not None), default=None)


def bought_g_ml(component: Component) -> float:
    """Grams in a ml of a component as its ingredient is bought: loose pieces as the ingredient says
    its pack holds them, else as a heap; a foam without its air."""
    own = (
        component.source.density_g_ml if component.source and component.behaves in HEAPED else None
    )
    return own or component.bulk_density_g_ml or component.density_g_ml


def put_in_ml(figure: BatchFigure) -> float:
    """All that is in the bowl or pot at once before it is poured off or whipped: the parts, at
    1 g/ml where no density is known, and the most cooking water of any step."""
    parts = (part.exact_g if part.volume_ml is None else part.volume_ml for part in figure.parts)
    water = max((step.water_ml or 0.0 for step in figure.batch.steps), default=0.0)
    return sum(parts) + water * figure.factor


def bowl_check(figure: BatchFigure) -> BowlLoads | None:
    """The loads of the bowl at its fullest, when all is in or when it is whipped; ``None`` without
    a bowl or a known volume."""
    batch, factor = figure.batch, figure.factor
    if batch.bowl_ml is None or figure.whipped_ml is None:
        return None
    full_ml = max(figure.whipped_ml, put_in_ml(figure)) / factor
    return bowl_loads(full_ml, bowl_ml=batch.bowl_ml, fill=batch.bowl_fill_share, scale=factor)


@dataclass(frozen=True, slots=True)
class Portion:
    """How many servings of one component in one cup a batch gives, and what is left over.

    The portion is as its tool measures it, ``tool_counts`` of one that is counted. Never less than
    is used: what is weighed is taken up to a step of the scale, what is poured to a line up to one
    of the shop's volumes.
    """

    component: Component
    cup: CupSize
    tool: Tool | None
    tool_counts: float | None
    mass_g: float
    volume_ml: float
    count: int = 0
    left_over_g: float | None = None


def portions(
    menu: Menu, figure: BatchFigure, poured_g: Poured | None = None
) -> tuple[Portion, ...]:
    """Portions per component, cup and amount, over the drinks and add-ons that use the batch."""
    found = {
        (use.component.id, use.cup.id, round(use.mass_g, 6)): use
        for use in _uses(menu, figure.batch, poured_g or {})
    }
    result = []
    for use in found.values():
        if figure.yield_g and use.mass_g > 0:
            count, left = portions_from(figure.yield_g, use.mass_g)
            result.append(replace(use, count=count, left_over_g=left))
        elif figure.yield_ml and use.volume_ml > 0:
            count, _ = portions_from(figure.yield_ml, use.volume_ml)
            result.append(replace(use, count=count))
    return tuple(result)


def weighed(menu: Menu, batch: Batch) -> bool:
    """Whether all that drinks and add-ons take of a batch is weighed."""
    uses = [*_uses(menu, batch, {})]
    return bool(uses) and not any(
        use.tool_counts is not None or use.component.by_volume(use.tool) for use in uses
    )


def _uses(menu: Menu, batch: Batch, poured_g: Poured) -> Iterator[Portion]:
    """Each component made of the batch and each cup, with what goes into it, not yet counted."""
    step_g = scale_step_g(menu)
    for drink in menu.drinks.values():
        made = (drink, *(swapped(drink, [swap.id]) for swap in drink.swaps))
        steps = [step for one in made for step in one.steps if one is drink or _swap(step)]
        for step in steps:
            if not isinstance(step, AddStep) or not _from(step.component, batch):
                continue
            component = step.component
            for cup in drink.cups:
                amount = step.amounts.get(cup.id)
                if isinstance(amount, Amount):
                    yield _use(component, step.tool, cup, amount, step_g, swapped=_swap(step))
                elif amount is not None:
                    grams = poured_g.get((drink.id, cup.id, component.id), 0.0)
                    ml = round_up(grams / component.density_g_ml, cup.volumes.step_ml)
                    yield Portion(component, cup, None, None, ml * component.density_g_ml, ml)
    for add_on in menu.add_ons.values():
        component = add_on.component
        if _from(component, batch):
            for cup in menu.cups_with(add_on):
                yield _use(component, component.tool, cup, add_on.amounts[cup.id], step_g)


def _use(
    component: Component,
    tool: Tool | None,
    cup: CupSize,
    written: Amount,
    step_g: float,
    *,
    swapped: bool = False,
) -> Portion:
    made = made_of(component, tool, cup, written, swapped=swapped)
    amount, counts = made.amount, made.amount / made.one if made.one else None
    if counts is None and not component.by_volume(tool):
        amount = to_step(amount, tool.step if tool and tool.unit == "g" else step_g, "up")
    asked = written.volume_ml if component.behaves == "liquid" else written.mass_g
    share = amount / asked if asked else 0.0
    return Portion(component, cup, tool, counts, written.mass_g * share, written.volume_ml * share)


def _swap(step: Step) -> bool:
    return isinstance(step, AddStep) and step.swap is not None


def _from(component: Component, batch: Batch) -> bool:
    source = component.source
    return isinstance(source, Batch) and source.id == batch.id and not source.to_order


def brew_ratio(batch: Batch) -> float | None:
    """Grams of everything else for 1 g of the tea or grounds named as ``brew``: 20 for 1:20."""
    if batch.brew is None:
        return None
    brewed_g = sum(part.mass_g for part in batch.parts if part.item.id == batch.brew.id)
    rest_g = sum(part.mass_g for part in batch.parts) - brewed_g
    return rest_g / brewed_g if brewed_g > 0 else None
