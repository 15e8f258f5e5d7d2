"""A day's expected sales go in; what to make and when, what to buy and what to have ready come out.

Sales spread as the day says, evenly over opening hours where it says nothing. A batch that keeps
for hours is made again in equal stretches no longer than it keeps; a batch inside another has to be
ready when the outer one is started. Shares are of one full batch's yield, so batches known only in
ml plan as well as those known in grams.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from graphlib import TopologicalSorter
from typing import NamedTuple

from buildsheets.cup.serving import Serving
from buildsheets.menu.drinks import DAY_MIN
from buildsheets.menu.model import Batch, Component, DaySales, Ingredient, Menu
from buildsheets.prep.batches import (
    BatchFigure,
    Item,
    PackNeed,
    bowl_check,
    figure_batch,
    pack_need,
    scale_step_g,
)
from buildsheets.prep.keeping import time_control_h
from buildsheets.prep.scaling import to_scales
from buildsheets.prep.yields import packs_for


class ComponentNeed(NamedTuple):
    """What the day takes of one component: true grams and ml, over so many servings."""

    component: Component
    mass_g: float
    volume_ml: float
    servings: int


@dataclass(frozen=True, slots=True)
class Making:
    """One making of a batch; minutes count from midnight of the day and may lie before opening.

    ``share`` is what it has to cover, in full batches; ``figure`` what is made, rounded up to what
    the shop makes. ``until_min`` ends the stretch it serves.
    """

    batch: Batch
    number: int
    start_min: float
    ready_min: float
    until_min: float
    share: float
    figure: BatchFigure
    loads: int

    @property
    def left_share(self) -> float:
        """Made and not needed, in full batches."""
        return self.figure.factor - self.share


@dataclass(frozen=True, slots=True)
class BatchPlan:
    """A batch over the day, in full batches: need, making, stock to have ready, what is left.

    ``ready`` at opening, ``share`` the whole day's need, ``at_most`` what sells while it keeps.
    """

    batch: Batch
    full: BatchFigure  # at factor 1
    share: float
    makings: tuple[Making, ...]
    at_most: float
    carries_over: bool  # what is left may be used tomorrow

    @property
    def ready(self) -> float:
        return self.makings[0].share if self.makings else 0.0

    def amount(self, share: float) -> tuple[float | None, float | None]:
        """Grams and ml that a share of a full batch gives, what is known of them."""
        grams, ml = self.full.yield_g, self.full.yield_ml
        return None if grams is None else grams * share, None if ml is None else ml * share

    @property
    def left_share(self) -> float:
        """Left at closing (or thrown out between makings), in full batches."""
        return sum(making.left_share for making in self.makings)


@dataclass(frozen=True, slots=True)
class Purchase:
    """What the day takes of an ingredient: grams, and whole packs with what they leave."""

    ingredient: Ingredient
    mass_g: float
    packs: PackNeed | None
    cost: Decimal | None  # of the whole packs


@dataclass(frozen=True, slots=True)
class DayPlan:
    """The day's plan. ``not_planned`` names drinks (id, cup id) that have no serving to count."""

    day: DaySales
    opens_min: int
    closes_min: int
    components: tuple[ComponentNeed, ...]
    batches: tuple[BatchPlan, ...]
    purchases: tuple[Purchase, ...]
    unknown: tuple[str, ...]  # batch ids whose yield is not known: a density is missing
    not_planned: tuple[tuple[str, str], ...]

    @property
    def makings(self) -> tuple[Making, ...]:
        """Every making of the day, by the time to start."""
        every = [making for plan in self.batches for making in plan.makings]
        return tuple(sorted(every, key=lambda m: (m.start_min, m.ready_min, m.batch.id)))


@dataclass(frozen=True, slots=True)
class _Demand:
    """A need in full batches, even between two moments or all at one."""

    from_min: float
    to_min: float
    share: float

    def between(self, start: float, end: float, *, last: bool) -> float:
        if self.to_min <= self.from_min:
            inside = start <= self.from_min < end or (last and self.from_min >= end)
            return self.share if inside else 0.0
        overlap = min(self.to_min, end) - max(self.from_min, start)
        return self.share * max(0.0, overlap) / (self.to_min - self.from_min)


def plan_day(menu: Menu, day: DaySales, servings: Mapping[tuple[str, str], Serving]) -> DayPlan:
    """Plan a day from its sales and the default serving of each (drink id, cup id)."""
    opens, closes = day.opens_at_minutes, day.closes_at_minutes
    if closes <= opens:
        closes += DAY_MIN  # open past midnight
    spread = day.spread or ((float(opens), float(closes), 1.0),)
    needs, missing = component_needs(day, servings)
    demand: dict[str, list[_Demand]] = {}
    unknown: set[str] = set()
    bought: dict[str, list[tuple[float, float | None]]] = {}

    def take(
        item: Item,
        mass_g: float,
        own_ml: float | None,
        served_ml: float | None,
        when: Sequence[tuple[float, float, float]],
    ) -> None:
        if isinstance(item, Ingredient):
            bought.setdefault(item.id, []).append((mass_g, own_ml))
        elif (share := figure_batch(item).share_of(mass_g, served_ml)) is None:
            unknown.add(item.id)
        else:
            part = (_Demand(begins, ends, share * weight) for begins, ends, weight in when)
            demand.setdefault(item.id, []).extend(part)

    for need in needs:
        if need.component.source is not None:
            own_ml = need.mass_g / need.component.density_g_ml  # without air or gaps
            take(need.component.source, need.mass_g, own_ml, need.volume_ml, spread)
    step_g = scale_step_g(menu)
    plans = {}
    for batch in outer_first(menu):
        if batch.id not in demand:
            continue
        plans[batch.id] = _plan_batch(menu, batch, demand[batch.id], step_g)
        for making in plans[batch.id].makings:
            for part in making.figure.parts:
                ml = part.volume_ml
                at_once = ((making.start_min, making.start_min, 1.0),)
                take(part.part.item, part.exact_g, ml, ml, at_once)
    return DayPlan(
        day=day,
        opens_min=opens,
        closes_min=closes,
        components=tuple(needs),
        batches=tuple(plans[id_] for id_ in menu.batches if id_ in plans),
        purchases=tuple(
            _purchase(item, bought[id_])
            for id_, item in menu.ingredients.items()
            if id_ in bought and not item.on_tap
        ),
        unknown=tuple(sorted(unknown)),
        not_planned=missing,
    )


def _purchase(item: Ingredient, uses: Sequence[tuple[float, float | None]]) -> Purchase:
    """All uses of an ingredient in whole packs; ml are known only while every use's are."""
    mass_g = sum(grams for grams, _ in uses)
    known = [ml for _, ml in uses if ml is not None]
    packs = pack_need(item, mass_g, sum(known) if len(known) == len(uses) else None)
    price = None if item.pack is None else item.pack.price
    cost = None if packs is None or price is None else price * packs.count
    return Purchase(item, mass_g, packs, cost)


def component_needs(
    day: DaySales, servings: Mapping[tuple[str, str], Serving]
) -> tuple[list[ComponentNeed], tuple[tuple[str, str], ...]]:
    """Grams and ml of every component for the day's sales, and the sales nothing is known of."""
    found: dict[str, ComponentNeed] = {}
    missing: list[tuple[str, str]] = []

    def add(component: Component, mass_g: float, volume_ml: float, times: int) -> None:
        _, grams, ml, count = found.get(component.id, ComponentNeed(component, 0.0, 0.0, 0))
        found[component.id] = ComponentNeed(
            component, grams + mass_g * times, ml + volume_ml * times, count + times
        )

    for line in day.lines:
        serving = servings.get((line.drink.id, line.cup.id))
        if serving is None:
            missing.append((line.drink.id, line.cup.id))
            continue
        for used in serving.used:
            if used.mass_g > 0:
                add(used.component, used.mass_g, used.volume_ml, line.count)
        for swap, times in line.swaps:
            other = serving.choices[replace(serving.choice, swaps=(swap.id,))]
            for made, sign in ((serving, -1), (other, 1)):
                for used in made.used:
                    if used.mass_g > 0:
                        add(used.component, used.mass_g, used.volume_ml, sign * times)
        for add_on, times in line.add_ons:
            amount = add_on.amounts.get(line.cup.id)
            if amount is not None and times > 0:
                add(add_on.component, amount.mass_g, amount.volume_ml, times)
    # Of what every guest swapped, nothing is left but the rounding of sums.
    return [need for need in found.values() if need.servings > 0], tuple(missing)


def outer_first(menu: Menu) -> tuple[Batch, ...]:
    """The batches ordered so that each comes before the batches inside it."""
    inside = {
        batch.id: [part.item.id for part in batch.parts if isinstance(part.item, Batch)]
        for batch in menu.batches.values()
    }
    inner_first = [*TopologicalSorter(inside).static_order()]
    return tuple(menu.batches[id_] for id_ in reversed(inner_first))


def keeps_min(menu: Menu, batch: Batch) -> float | None:
    """Minutes a batch serves after it is made; ``None`` when it keeps for days."""
    own = batch.keeps_for.hours if batch.keeps_for is not None else None
    hours = [h for h in (own, time_control_h(menu.shop, batch)) if h is not None]
    return 60.0 * min(hours) if hours else None


def _plan_batch(menu: Menu, batch: Batch, demand: list[_Demand], step_g: float) -> BatchPlan:
    first = min(d.from_min for d in demand)
    last = max(d.to_min for d in demand)
    keeps = keeps_min(menu, batch)
    stretches = 1 if keeps is None else max(1, packs_for(last - first, keeps)[0])
    width = (last - first) / stretches
    makings: list[Making] = []
    for number in range(stretches):
        start, end = first + number * width, first + (number + 1) * width
        share = sum(d.between(start, end, last=number == stretches - 1) for d in demand)
        if share > 0:
            figure = figure_batch(batch, to_scales(batch, share).factor, step_g)
            bowl = bowl_check(figure)
            loads = 1 if bowl is None else bowl.loads
            work_min = loads * sum(step.time_s or 0.0 for step in batch.steps) / 60.0
            place = len(makings) + 1
            makings.append(Making(batch, place, start - work_min, start, end, share, figure, loads))
    total = sum(d.share for d in demand)
    days = (batch.keeps_for.days if batch.keeps_for is not None else None) or 1
    at_most = makings[0].share if len(makings) > 1 else total * days
    carries_over = keeps is None and days > 1
    return BatchPlan(batch, figure_batch(batch), total, tuple(makings), at_most, carries_over)
