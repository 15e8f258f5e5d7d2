"""A day's expected sales go in; what to make and when, what to buy and what to have ready come out.

Sales spread evenly over opening hours (the shop gives no curve). A batch that keeps for hours is
made again in equal stretches no longer than it keeps; a batch inside another has to be ready when
the outer one is started. Shares are of one full batch's yield, so batches known only in ml plan as
well as those known in grams.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import (
    Amount,
    Batch,
    Component,
    DaySales,
    Ingredient,
    Menu,
    SalesLine,
)
from buildsheets.prep.batches import (
    BatchFigure,
    Packs,
    bowl_check,
    figure_batch,
    pack_need,
    scale_step_g,
)
from buildsheets.prep.keeping import time_control_h
from buildsheets.prep.scaling import Scaling, for_factor, to_scales
from buildsheets.prep.yields import whole_above

DAY_MIN = 24 * 60


@dataclass(frozen=True, slots=True)
class ComponentNeed:
    """What the day takes of one component: true grams and ml, over so many servings."""

    component: Component
    mass_g: float
    volume_ml: float
    servings: int


@dataclass(frozen=True, slots=True)
class Run:
    """One making of a batch; minutes count from midnight of the day and may lie before opening.

    ``share`` is what it has to cover, in full batches; ``figure`` what is made, rounded up to what
    the shop makes. ``until_min`` ends the stretch it serves, ``minutes`` is the timed work.
    """

    batch: Batch
    number: int
    start_min: float
    ready_min: float
    until_min: float
    minutes: float
    share: float
    scaling: Scaling
    figure: BatchFigure
    loads: int

    @property
    def left_share(self) -> float:
        """Made and not needed, in full batches."""
        return self.figure.factor - self.share


@dataclass(frozen=True, slots=True)
class BatchPlan:
    """A batch over the day: need and making in full batches, and what becomes of the rest."""

    batch: Batch
    share: float
    runs: tuple[Run, ...]
    carries_over: bool  # what is left may be used tomorrow

    @property
    def left_share(self) -> float:
        """Left at closing (or thrown out between makings), in full batches."""
        return sum(run.left_share for run in self.runs)


@dataclass(frozen=True, slots=True)
class Purchase:
    """What the day takes of an ingredient: grams, and whole packs with what they leave."""

    ingredient: Ingredient
    mass_g: float
    packs: Packs | None
    cost: Decimal | None  # of the whole packs


@dataclass(frozen=True, slots=True)
class Par:
    """Stock to have ready of a batch, in full batches and in grams and ml of its yield.

    ``ready`` at opening; ``day`` the whole day's need; ``at_most`` what sells while it keeps.
    """

    batch: Batch
    ready: float
    day: float
    at_most: float
    figure: BatchFigure  # at factor 1


@dataclass(frozen=True, slots=True)
class DayPlan:
    """The day's plan. ``not_planned`` names drinks (id, cup id) that have no serving to count."""

    day: DaySales
    opens_min: int
    closes_min: int
    components: tuple[ComponentNeed, ...]
    batches: tuple[BatchPlan, ...]
    purchases: tuple[Purchase, ...]
    par: tuple[Par, ...]
    unknown: tuple[str, ...]  # batch ids whose yield is not known: a density is missing
    not_planned: tuple[tuple[str, str], ...]

    @property
    def runs(self) -> tuple[Run, ...]:
        """Every making of the day, by the time to start."""
        every = [run for plan in self.batches for run in plan.runs]
        return tuple(sorted(every, key=lambda r: (r.start_min, r.ready_min, r.batch.id)))


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
    needs, missing = component_needs(day, servings)
    demand: dict[str, list[_Demand]] = {}
    unknown: set[str] = set()
    bought: dict[str, _Bought] = {}
    for need in needs:
        source = need.component.source
        if isinstance(source, Ingredient):
            bought.setdefault(source.id, _Bought(source)).add(need.mass_g, _own_ml(need))
        elif isinstance(source, Batch):
            share = figure_batch(source).share_of(need.mass_g, need.volume_ml)
            if share is None:
                unknown.add(source.id)
            else:
                demand.setdefault(source.id, []).append(_Demand(opens, closes, share))
    step_g = scale_step_g(menu)
    plans = []
    for batch in outer_first(menu.batches.values()):
        if batch.id not in demand:
            continue
        plan = _plan_batch(menu, batch, demand[batch.id], step_g)
        plans.append(plan)
        for run in plan.runs:
            for part in run.figure.parts:
                item = part.part.item
                if isinstance(item, Ingredient):
                    bought.setdefault(item.id, _Bought(item)).add(part.exact_g, part.volume_ml)
                    continue
                share = figure_batch(item).share_of(part.exact_g, part.volume_ml)
                if share is None:
                    unknown.add(item.id)
                else:
                    moment = _Demand(run.start_min, run.start_min, share)
                    demand.setdefault(item.id, []).append(moment)
    order = list(menu.batches)
    return DayPlan(
        day=day,
        opens_min=opens,
        closes_min=closes,
        components=tuple(needs),
        batches=tuple(sorted(plans, key=lambda p: order.index(p.batch.id))),
        purchases=tuple(bought[id_].purchase() for id_ in menu.ingredients if id_ in bought),
        par=tuple(_par(plan) for plan in sorted(plans, key=lambda p: order.index(p.batch.id))),
        unknown=tuple(sorted(unknown)),
        not_planned=missing,
    )


def component_needs(
    day: DaySales, servings: Mapping[tuple[str, str], Serving]
) -> tuple[list[ComponentNeed], tuple[tuple[str, str], ...]]:
    """Grams and ml of every component for the day's sales, and the sales nothing is known of."""
    found: dict[str, ComponentNeed] = {}
    missing: list[tuple[str, str]] = []

    def add(component: Component, mass_g: float, volume_ml: float, times: int) -> None:
        before = found.get(component.id, ComponentNeed(component, 0.0, 0.0, 0))
        found[component.id] = ComponentNeed(
            component,
            before.mass_g + mass_g * times,
            before.volume_ml + volume_ml * times,
            before.servings + times,
        )

    for line in day.lines:
        serving = servings.get((line.drink.id, line.cup.id))
        if serving is None:
            missing.append((line.drink.id, line.cup.id))
            continue
        for used in serving.used:
            if used.mass_g > 0:
                add(used.component, used.mass_g, used.volume_ml, line.count)
        for component, amount, times in _added(line):
            add(component, amount.mass_g, amount.volume_ml, times)
    return list(found.values()), tuple(missing)


def _added(line: SalesLine) -> Iterable[tuple[Component, Amount, int]]:
    for add_on, times in line.add_ons:
        amount = add_on.amounts.get(line.cup.id)
        if amount is not None and times > 0:
            yield add_on.component, amount, times


def outer_first(batches: Iterable[Batch]) -> tuple[Batch, ...]:
    """Batches ordered so that each comes before the batches inside it."""
    done: dict[str, Batch] = {}

    def visit(batch: Batch) -> None:
        if batch.id in done:
            return
        for part in batch.parts:
            if isinstance(part.item, Batch):
                visit(part.item)
        done[batch.id] = batch

    for batch in batches:
        visit(batch)
    return tuple(reversed(done.values()))


def keeps_min(menu: Menu, batch: Batch) -> float | None:
    """Minutes a batch serves after it is made; ``None`` when it keeps for days."""
    own = batch.keeps_for.hours if batch.keeps_for is not None else None
    hours = [h for h in (own, time_control_h(menu.shop, batch)) if h is not None]
    return 60.0 * min(hours) if hours else None


def _plan_batch(menu: Menu, batch: Batch, demand: list[_Demand], step_g: float) -> BatchPlan:
    first = min(d.from_min for d in demand)
    last = max(d.to_min for d in demand)
    keeps = keeps_min(menu, batch)
    stretches = 1 if keeps is None else max(1, whole_above((last - first) / keeps))
    width = (last - first) / stretches
    runs: list[Run] = []
    for number in range(stretches):
        start, end = first + number * width, first + (number + 1) * width
        is_last = number == stretches - 1
        share = sum(d.between(start, end, last=is_last) for d in demand)
        if share > 0:
            runs.append(_run(batch, len(runs) + 1, start, end, share, step_g))
    total = sum(d.share for d in demand)
    days = batch.keeps_for.days if batch.keeps_for is not None else None
    return BatchPlan(batch, total, tuple(runs), keeps is None and (days or 0) > 1)


def _run(batch: Batch, number: int, ready: float, until: float, share: float, step_g: float) -> Run:
    scaling = to_scales(batch, share) if batch.scales or batch.lead else for_factor(share)
    figure = figure_batch(batch, scaling.factor, step_g)
    bowl = bowl_check(figure)
    loads = 1 if bowl is None else bowl.loads
    minutes = loads * sum(step.time_s or 0.0 for step in batch.steps) / 60.0
    return Run(
        batch=batch,
        number=number,
        start_min=ready - minutes,
        ready_min=ready,
        until_min=until,
        minutes=minutes,
        share=share,
        scaling=scaling,
        figure=figure,
        loads=loads,
    )


def _par(plan: BatchPlan) -> Par:
    batch = plan.batch
    days = 1 if batch.keeps_for is None or batch.keeps_for.days is None else batch.keeps_for.days
    ready = plan.runs[0].share if plan.runs else 0.0
    at_most = ready if len(plan.runs) > 1 else plan.share * days
    return Par(batch, ready, plan.share, at_most, figure_batch(batch))


class _Bought:
    """Sums what the day takes of one ingredient; ml stays known only while every part's is."""

    def __init__(self, ingredient: Ingredient) -> None:
        self._ingredient = ingredient
        self._mass_g = 0.0
        self._volume_ml: float | None = 0.0

    def add(self, mass_g: float, volume_ml: float | None) -> None:
        self._mass_g += mass_g
        if self._volume_ml is None or volume_ml is None:
            self._volume_ml = None
        else:
            self._volume_ml += volume_ml

    def purchase(self) -> Purchase:
        packs = pack_need(self._ingredient, self._mass_g, self._volume_ml)
        pack = self._ingredient.pack
        price = None if packs is None or pack is None else pack.price
        cost = None if price is None or packs is None else price * packs.count
        return Purchase(self._ingredient, self._mass_g, packs, cost)


def _own_ml(need: ComponentNeed) -> float | None:
    """ml of the material as bought: without the air of a cap or the gaps of a bed."""
    return need.mass_g / need.component.density_g_ml


def clock(minutes: float) -> str:
    """Minutes of the day as a clock time, early starts rounded down: 9.5 h as ``09:30``."""
    whole = int(minutes // 1) % DAY_MIN
    return f"{whole // 60:02d}:{whole % 60:02d}"
