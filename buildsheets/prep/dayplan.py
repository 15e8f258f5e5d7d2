"""A day's expected sales go in; what to make and when, what to buy and what to have ready come out.

Sales spread as the day says, evenly over opening hours where it says nothing. A batch that keeps
for hours is made again in equal stretches no longer than it keeps; a batch inside another has to be
ready when the outer one is started. Shares are of one full batch's yield, so batches known only in
ml plan as well as those known in grams.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from graphlib import TopologicalSorter
from typing import NamedTuple

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import Batch, Component, DaySales, Drink, Ingredient, Menu
from buildsheets.menu.when import DAY_MIN
from buildsheets.prep.batches import (
    BatchFigure,
    Item,
    Stored,
    bowl_check,
    figure_batch,
    heap_g_ml,
    scale_step_g,
)
from buildsheets.prep.buying import Purchase, Use, purchases
from buildsheets.prep.keeping import time_control_h
from buildsheets.prep.packaging import pieces
from buildsheets.prep.sales import NotSold, sold_on
from buildsheets.prep.scaling import to_scales
from buildsheets.prep.stock import used_first
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
    from_stock: float = 0.0  # of what is on hand when the day begins

    @property
    def ready(self) -> float:
        """At opening: what is on hand, and the first making where it is not made for later."""
        later = self.from_stock and not self.carries_over
        return self.from_stock + (self.makings[0].share if self.makings and not later else 0.0)

    def amount(self, share: float) -> tuple[float | None, float | None]:
        """Grams and ml that a share of a full batch gives, what is known of them."""
        grams, ml = self.full.yield_g, self.full.yield_ml
        return None if grams is None else grams * share, None if ml is None else ml * share

    @property
    def left_share(self) -> float:
        """Left at closing (or thrown out between makings), in full batches."""
        return sum(making.left_share for making in self.makings)


@dataclass(frozen=True, slots=True)
class DayPlan:
    """The day's plan. ``day`` has what is sold on it; ``not_planned`` names drinks (id, cup id)
    that have no serving to count, ``not_sold`` what of the sales is left out as not sold, and
    ``any_date`` drinks sold on some dates that are planned since the day has none."""

    day: DaySales
    on: date | None
    opens_min: int
    closes_min: int
    components: tuple[ComponentNeed, ...]
    batches: tuple[BatchPlan, ...]
    purchases: tuple[Purchase, ...]
    unknown: tuple[str, ...]  # batch ids whose yield is not known: a density is missing
    not_planned: tuple[tuple[str, str], ...]
    not_sold: tuple[NotSold, ...]
    any_date: tuple[Drink, ...]
    heaps: Mapping[str, float]  # g/ml of the batches that are stored as a heap

    def stored(self, one: BatchPlan, share: float) -> Stored:
        """A share of a full batch, as it is stored."""
        return Stored(*one.amount(share), self.heaps.get(one.batch.id))

    def gives(self, making: Making) -> Stored:
        """What a making yields, as it is stored."""
        figure = making.figure
        return Stored(figure.yield_g, figure.yield_ml, self.heaps.get(making.batch.id))

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


def plan_day(
    menu: Menu,
    day: DaySales,
    servings: Mapping[tuple[str, str], Serving],
    on_hand: Mapping[str, float] | None = None,
    on: date | None = None,
) -> DayPlan:
    """Plan a day, of a date where one is given, from its sales and the default serving of each
    (drink id, cup id).

    ``on_hand`` are grams of batches that are there when the day begins and keep to its end.
    """
    opens, closes = day.opens_at_minutes, day.closes_at_minutes
    if closes <= opens:
        closes += DAY_MIN  # open past midnight
    spread = day.spread or ((float(opens), float(closes), 1.0),)
    sold = sold_on(menu, replace(day, spread=spread), on)
    needs, missing = component_needs(sold.day, servings)
    demand: dict[str, list[_Demand]] = {}
    unknown: set[str] = set()
    bought: dict[str, list[Use]] = {}

    def take(
        item: Item,
        mass_g: float,
        own_ml: float | None,
        served_ml: float | None,
        when: Sequence[tuple[float, float, float]],
    ) -> None:
        if isinstance(item, Ingredient):
            bought.setdefault(item.id, []).append(Use(mass_g, own_ml))
        elif (share := figure_batch(item).share_of(mass_g, served_ml)) is None:
            unknown.add(item.id)
        else:
            part = (_Demand(begins, ends, share * weight) for begins, ends, weight in when)
            demand.setdefault(item.id, []).extend(part)

    for run in sold.runs:
        for need in component_needs(run, servings)[0]:
            if need.component.source is not None:
                own = need.component.bulk_density_g_ml or need.component.density_g_ml
                own_ml = need.mass_g / own  # as bought: without air, with the gaps of a heap
                take(need.component.source, need.mass_g, own_ml, need.volume_ml, run.spread)
    step_g, poured = scale_step_g(menu), menu.components.values()
    plans = {}
    for batch in outer_first(menu):
        if batch.id not in demand:
            continue
        plan = _plan_batch(menu, batch, demand[batch.id], step_g)
        if there := plan.full.share_of((on_hand or {}).get(batch.id, 0.0), None):
            left, used = used_first(demand[batch.id], there)
            makings = _plan_batch(menu, batch, left, step_g).makings if left else ()
            plan = replace(plan, makings=makings, from_stock=used)
        plans[batch.id] = plan
        for making in plans[batch.id].makings:
            for part in making.figure.parts:
                ml = part.volume_ml
                at_once = ((making.start_min, making.start_min, 1.0),)
                take(part.part.item, part.exact_g, ml, ml, at_once)
    return DayPlan(
        day=sold.day,
        on=on,
        opens_min=opens,
        closes_min=closes,
        components=tuple(needs),
        batches=tuple(plans[id_] for id_ in menu.batches if id_ in plans),
        purchases=purchases(menu, bought, pieces(sold.day.lines)),
        unknown=tuple(sorted(unknown)),
        not_planned=missing,
        not_sold=sold.not_sold,
        any_date=sold.any_date,
        heaps={id_: heap for id_ in plans if (heap := heap_g_ml(poured, menu.batches[id_]))},
    )


def component_needs(
    day: DaySales, servings: Mapping[tuple[str, str], Serving]
) -> tuple[list[ComponentNeed], tuple[tuple[str, str], ...]]:
    """Grams and ml of every component for the day's sales, and the sales nothing is known of."""
    found: dict[str, tuple[Component, float, float, Fraction]] = {}
    missing: list[tuple[str, str]] = []

    def add(component: Component, mass_g: float, volume_ml: float, times: Fraction) -> None:
        _, grams, ml, count = found.get(component.id, (component, 0.0, 0.0, Fraction(0)))
        more_g, more_ml = mass_g * float(times), volume_ml * float(times)
        found[component.id] = component, grams + more_g, ml + more_ml, count + times

    for line in day.lines:
        serving = servings.get((line.drink.id, line.cup.id))
        if serving is None:
            missing.append((line.drink.id, line.cup.id))
            continue
        for used in serving.used:
            if used.mass_g > 0:
                add(used.component, used.mass_g, used.volume_ml, Fraction(line.count))
        for add_on, times in line.add_ons:
            amount = add_on.amounts.get(line.cup.id)
            if amount is not None and times > 0:
                add(add_on.component, amount.mass_g, amount.volume_ml, times)
    needs = [ComponentNeed(one, g, ml, round(times)) for one, g, ml, times in found.values()]
    return needs, tuple(missing)


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
