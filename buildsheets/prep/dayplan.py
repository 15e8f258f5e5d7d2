"""A day's expected sales go in; what to make and when, what to buy and what to have ready come out.

Sales spread as the day says, evenly over opening hours where it says nothing. Batches are planned
before what goes into them, which has to be ready when the step begins that takes it. All loads of
a stretch are wanted when it begins; one that finds no place by then is wanted when the loads before
it have run out. A day that leaves loads without a place is tried again with shorter stretches.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from graphlib import TopologicalSorter
from itertools import groupby
from typing import NamedTuple

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import Batch, Component, DaySales, Drink, Ingredient, Menu
from buildsheets.menu.when import DAY_MIN, Stretch
from buildsheets.prep.batches import (
    Item,
    Stored,
    bought_g_ml,
    figure_batch,
    heap_g_ml,
    weighed,
)
from buildsheets.prep.buying import Purchase, Use, purchases
from buildsheets.prep.loads import amount_of, goes_in_at, pieces_of
from buildsheets.prep.makings import (
    BatchPlan,
    Demand,
    Load,
    Making,
    good_until,
    keeps_min,
    plan_batch,
)
from buildsheets.prep.packaging import pieces
from buildsheets.prep.sales import NotSold, Sold, sold_on
from buildsheets.prep.schedule import HANDS, Task, Timetable, Window
from buildsheets.prep.stock import used_first

EARLIEST_MIN = -3 * DAY_MIN
"""How long before the day work may start: two days of steeping and the day before them."""

LATEST_EVENING_MIN = 22 * 60
"""Until when somebody is asked to work on the evening before: our choice, no source."""

LATER_MIN = 30
"""How far apart the times are from which people are tried."""

MOST_TRIES = 4
"""How often shorter stretches are tried."""


class ComponentNeed(NamedTuple):
    """What the day takes of one component: true grams and ml, over so many servings."""

    component: Component
    mass_g: float
    volume_ml: float
    servings: int


class NotPlanned(NamedTuple):
    """A drink in a cup that cannot be planned."""

    drink: str
    cup: str


@dataclass(frozen=True, slots=True)
class Change:
    """What is other than the menu says: more people, people earlier, one more of some things, and
    somebody for so long on the evening before."""

    people: int = 0
    earlier_min: int = 0
    things: tuple[str, ...] = ()
    evening_min: int = 0


AS_IT_IS = Change()


@dataclass(frozen=True, slots=True)
class DayPlan:
    """The day's plan. ``day`` has what is sold on it; ``not_planned`` are drinks that have no
    serving to count, ``not_sold`` what of the sales is left out as not sold, and
    ``any_date`` drinks sold on some dates that are planned since the day has none.

    ``most_hands`` is (busy at once at most, there then, when first).
    """

    day: DaySales
    on: date | None
    opens_min: int
    closes_min: int
    components: tuple[ComponentNeed, ...]
    batches: tuple[BatchPlan, ...]
    purchases: tuple[Purchase, ...]
    unknown: tuple[str, ...]  # batch ids whose yield is not known: a density is missing
    not_planned: tuple[NotPlanned, ...]
    not_sold: tuple[NotSold, ...]
    any_date: tuple[Drink, ...]
    most_hands: tuple[int, int, int]
    heaps: Mapping[str, float]  # g/ml of the batches that are stored as a heap
    weighed: frozenset[str]  # the batches of which all that is taken is weighed

    def stored(self, one: BatchPlan, share: float) -> Stored:
        """A share of a full batch, as it is stored."""
        return self._stored(one.batch, *one.amount(share))

    def gives(self, making: Making) -> Stored:
        """What a making yields, as it is stored."""
        return self._stored(making.batch, making.figure.yield_g, making.figure.yield_ml)

    def _stored(self, batch: Batch, mass_g: float | None, volume_ml: float | None) -> Stored:
        return Stored(mass_g, volume_ml, self.heaps.get(batch.id), batch.id in self.weighed)

    @property
    def makings(self) -> tuple[Making, ...]:
        """Every making of the day, by the time to start."""
        every = [making for plan in self.batches for making in plan.makings]
        return tuple(sorted(every, key=lambda m: (m.start_min, m.ready_min, m.batch.id)))

    @property
    def loads(self) -> tuple[Load, ...]:
        return tuple(load for plan in self.batches for load in plan.loads)

    @property
    def not_in_time(self) -> tuple[Load, ...]:
        """Loads that are ready too late, or find no place at all."""
        return tuple(load for load in self.loads if not load.in_time)

    @property
    def ice_g(self) -> float:
        """Ice that cooling melts over the day."""
        return sum(load.ice_g for load in self.loads)


def plan_day(
    menu: Menu,
    day: DaySales,
    servings: Mapping[tuple[str, str], Serving],
    on_hand: Mapping[str, float] | None = None,
    on: date | None = None,
    change: Change = AS_IT_IS,
    tries: int = MOST_TRIES,
    *,
    cuts: bool = True,
) -> DayPlan:
    """Plan a day, of a date where one is given, from its sales and the default serving of each
    (drink id, cup id).

    ``on_hand`` are grams of batches that are there when the day begins and keep to its end.
    Where loads are not in time: the batches they are of choose first; then all are wanted no
    sooner than those before them have run out; then those that keep for hours are made oftener.
    At last (``cuts``) the same is tried without some of the time, people and things there are, so
    that more of them is never worse. The plan with the fewest late stands.
    """

    wanted = _wanted(menu, day, servings, on)

    def plan(how: _Try) -> DayPlan:
        return _plan(menu, day, wanted, on_hand or {}, on, change, how)

    best = _best(menu, plan, AS_MUCH, tries)
    for cut in _cuts(menu, day, change) if cuts else ():
        if not best.not_in_time:
            break
        best = min(best, _best(menu, plan, cut, tries), key=_badness)
    return best


def _best(menu: Menu, plan: Callable[[_Try], DayPlan], cut: _Cut, tries: int) -> DayPlan:
    found: list[DayPlan] = []
    more: dict[str, int] = {}
    first: frozenset[str] = frozenset()
    for _ in range(tries):
        for in_turn in (False, False, True, True):
            found.append(plan(_Try(more, first, in_turn, cut)))
            late = {load.batch.id for load in found[-1].not_in_time}
            if not late:
                return found[-1]
            first |= late
        short = {one.batch.id for one in found[-1].batches if keeps_min(menu, one.batch)}
        often = first & short or short  # what keeps for days may wait for room that others take
        if not often:
            break
        more = {id_: more.get(id_, 0) + 1 for id_ in often}
        first = frozenset()
    return min(found, key=_badness)


@dataclass(frozen=True, slots=True)
class _Cut:
    """Nobody before a minute of the day, and one fewer of a thing or of hands."""

    not_before_min: int = EARLIEST_MIN
    fewer: str | None = None


AS_MUCH = _Cut()


def _cuts(menu: Menu, day: DaySales, change: Change) -> Iterator[_Cut]:
    """One fewer of what there are several of; people from each whole LATER_MIN on."""
    if change.people or any(one.count > 1 for one in day.people):
        yield _Cut(fewer=HANDS)
    for id_, thing in menu.kitchen.items():
        if thing.count > 1 or id_ in change.things:
            yield _Cut(fewer=id_)
    today = [one.from_min for one in day.people if one.from_min >= 0]
    if today:
        first = min(today) - change.earlier_min
        begins = first // LATER_MIN * LATER_MIN + LATER_MIN
        yield from (_Cut(at) for at in range(begins, day.opens_at_minutes, LATER_MIN))


@dataclass(frozen=True, slots=True)
class _Try:
    """How often more than needed batches are made, which choose first, and whether their loads are
    wanted ``in_turn``, when those before them have run out: then the smallest is made first."""

    more: Mapping[str, int]
    first: frozenset[str]
    in_turn: bool
    cut: _Cut


def _badness(plan: DayPlan) -> tuple[int, int]:
    late = plan.not_in_time
    nowhere = sum(DAY_MIN for load in late if load.start_min is None)
    return len(late), nowhere + sum(load.late_min for load in late)


@dataclass(frozen=True, slots=True)
class _Wanted:
    """What is sold on a day and takes, the same however it is planned: in all, and of each run with
    its hours; the sales that nothing is known of, and the batches that are weighed."""

    sold: Sold
    needs: tuple[ComponentNeed, ...]
    runs: tuple[tuple[tuple[Stretch, ...], tuple[ComponentNeed, ...]], ...]
    missing: tuple[NotPlanned, ...]
    weighed: frozenset[str]


def _wanted(
    menu: Menu, day: DaySales, servings: Mapping[tuple[str, str], Serving], on: date | None
) -> _Wanted:
    hours = (float(day.opens_at_minutes), float(day.closes_at_minutes), 1.0)
    sold = sold_on(menu, replace(day, spread=day.spread or (hours,)), on)
    needs, missing = component_needs(sold.day, servings)
    runs = ((run.spread, tuple(component_needs(run, servings)[0])) for run in sold.runs)
    on_scale = frozenset(id_ for id_, batch in menu.batches.items() if weighed(menu, batch))
    return _Wanted(sold, tuple(needs), tuple(runs), missing, on_scale)


def _plan(
    menu: Menu,
    day: DaySales,
    wanted: _Wanted,
    on_hand: Mapping[str, float],
    on: date | None,
    change: Change,
    how: _Try,
) -> DayPlan:
    opens, closes, sold = day.opens_at_minutes, day.closes_at_minutes, wanted.sold
    demand: dict[str, list[Demand]] = {}
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
        elif item.to_order:
            for one in figure_batch(item, share).parts:
                take(one.part.item, one.exact_g, one.volume_ml, one.volume_ml, when)
        else:
            part = (Demand(begins, ends, share * weight) for begins, ends, weight in when)
            demand.setdefault(item.id, []).extend(part)

    for spread, needs in wanted.runs:
        for need in needs:
            if need.component.source is not None:
                own_ml = need.mass_g / bought_g_ml(need.component)
                take(need.component.source, need.mass_g, own_ml, need.volume_ml, spread)
    table, poured = _timetable(menu, day, closes, change, how.cut), menu.components.values()
    for id_, grams in on_hand.items():
        if (kept := menu.batches[id_].kept_in) is not None:
            table.take(kept.id, EARLIEST_MIN, closes, _ml(menu.batches[id_], grams))
    plans: dict[str, BatchPlan] = {}
    depths = _depths(menu)
    for _, level in groupby(sorted(depths, key=depths.__getitem__), key=depths.__getitem__):
        at_once = [
            _less_stock(menu, menu.batches[id_], demand[id_], how, on_hand.get(id_, 0.0))
            for id_ in level
            if id_ in demand
        ]
        for one in at_once:
            _stock_stands(table, one, on_hand.get(one.batch.id, 0.0), demand[one.batch.id], closes)
        starts = _place(table, at_once, how)
        plans |= {one.batch.id: _with_starts(menu, one, starts, opens) for one in at_once}
        for load in (load for one in at_once for load in plans[one.batch.id].loads):
            for part in load.figure.parts:
                ml, at_min = part.volume_ml, _goes_in_min(load, part.part.item)
                take(part.part.item, part.exact_g, ml, ml, ((at_min, at_min, 1.0),))
    return DayPlan(
        day=sold.day,
        on=on,
        opens_min=opens,
        closes_min=closes,
        components=wanted.needs,
        batches=tuple(plans[id_] for id_ in menu.batches if id_ in plans),
        purchases=purchases(menu, bought, pieces(sold.day.lines)),
        unknown=tuple(sorted(unknown)),
        not_planned=wanted.missing,
        not_sold=sold.not_sold,
        any_date=sold.any_date,
        most_hands=table.most_hands(),
        heaps={id_: heap for id_ in plans if (heap := heap_g_ml(poured, menu.batches[id_]))},
        weighed=wanted.weighed,
    )


def _less_stock(
    menu: Menu, batch: Batch, demand: list[Demand], how: _Try, there_g: float
) -> BatchPlan:
    """The makings of a batch, after what is on hand of it is used up."""
    more = how.more.get(batch.id, 0)
    turn = how.in_turn
    plan = plan_batch(menu, batch, demand, more, smallest_first=turn)
    there = plan.full.share_of(there_g, None)
    if not there:
        return plan
    left, used = used_first(demand, there)
    makings = plan_batch(menu, batch, left, more, smallest_first=turn).makings if left else ()
    return replace(plan, makings=makings, from_stock=used)


def evening_before(day: DaySales, minutes: int) -> Window:
    """So long on the evening before, to closing or to 22:00."""
    to = min(day.closes_at_minutes, LATEST_EVENING_MIN) - DAY_MIN
    return Window(to - minutes, to, 1)


def _timetable(menu: Menu, day: DaySales, closes: int, change: Change, cut: _Cut) -> Timetable:
    """Hands and things of the day; without people, one pair of hands at any time."""
    last = closes + DAY_MIN
    people = change.people - (cut.fewer == HANDS)
    windows = [
        Window(one.from_min, one.to_min, max(1, one.count + people)) for one in day.people
    ] or [Window(EARLIEST_MIN, last, max(1, 1 + people))]
    if day.people and change.earlier_min:
        today = [one for one in windows if one.from_min >= 0] or windows
        first = min(today, key=lambda one: one.from_min)
        windows.append(Window(first.from_min - change.earlier_min, first.from_min, first.count))
    if change.evening_min:
        evening = evening_before(day, change.evening_min)
        windows.append(Window(evening.from_min, evening.to_min, 1))
    windows = [
        one if one.from_min < 0 else replace(one, from_min=max(one.from_min, cut.not_before_min))
        for one in windows
    ]
    amounts = {id_: amount_of(thing) for id_, thing in menu.kitchen.items()}
    known = {
        id_: amount * (1 + ((id_ in change.things) - (id_ == cut.fewer)) / menu.kitchen[id_].count)
        for id_, amount in amounts.items()
        if amount is not None
    }
    return Timetable(EARLIEST_MIN, last, windows, known)


def _ml(batch: Batch, grams: float) -> float:
    """The room of what is on hand of a batch; 0 where it is not known."""
    full = figure_batch(batch)
    return (full.yield_ml or 0.0) * (full.share_of(grams, None) or 0.0)


def _stock_stands(
    table: Timetable, plan: BatchPlan, there_g: float, demand: Sequence[Demand], closes: int
) -> None:
    """What is on hand leaves its fridge when it has run out, if it does."""
    if there_g and plan.batch.kept_in is not None:
        runs_out = min((m.from_min for m in plan.makings), default=max(d.to_min for d in demand))
        ml = _ml(plan.batch, there_g) if plan.from_stock else 0.0
        table.take(plan.batch.kept_in.id, math.ceil(runs_out), closes, -ml)


_Key = tuple[str, float, int]
"""Names a load of a day: its batch, when it is needed, its number."""


def _key(load: Load) -> _Key:
    return load.batch.id, load.from_min, load.number


class _Start(NamedTuple):
    """When a load starts, if it does; where it is late, what it waits for."""

    min: int | None
    waits_for: tuple[str, ...] = ()


def _place(table: Timetable, plans: Iterable[BatchPlan], how: _Try) -> dict[_Key, _Start]:
    """The start of each load: wanted when its stretch begins (not ``in_turn``), else when those
    before it have run out, else as soon after that as there is a place.

    Of those wanted at once, what can be made least early chooses first, then what takes longest;
    of one making the smallest, so that the largest is made first.
    """
    todo = [making for one in plans for making in one.makings]
    todo.sort(key=lambda m: (-m.loads[0].ready_from_min, -m.loads[-1].minutes, m.batch.id))
    loads = {_key(load): load for making in todo for load in _smallest(making)}
    begins = {_key(load): making.from_min for making in todo for load in _smallest(making)}
    starts: dict[_Key, _Start] = {}

    def place(due: Mapping[_Key, float]) -> None:
        tasks = {str(key): (key, _task(loads[key], minute)) for key, minute in due.items()}
        for one in table.place(task for _, task in tasks.values()):
            starts[tasks[one.task.id][0]] = _Start(one.start_min)

    wanted = {key: load.from_min for key, load in loads.items()} if how.in_turn else begins
    place({key: minute for key, minute in wanted.items() if loads[key].batch.id in how.first})
    place({key: minute for key, minute in wanted.items() if key not in starts})
    for making in todo:
        starts |= _in_turn(making, starts)
    left = {key: load.from_min for key, load in loads.items() if key not in starts}
    place({key: needed for key, needed in left.items() if needed > begins[key]})
    for key in sorted(left, key=lambda key: left[key]):
        if key not in starts:
            task = _task(loads[key], left[key])
            waits_for, late = table.waits_for(task), table.place_late(task)
            starts[key] = _Start(None if late is None else late.start_min, waits_for)
    return starts


def _smallest(making: Making) -> list[Load]:
    return sorted(making.loads, key=lambda load: load.figure.factor)


def _in_turn(making: Making, starts: Mapping[_Key, _Start]) -> dict[_Key, _Start]:
    """Loads of one size change places, so that the one needed first is made first."""
    by_size: dict[float, list[_Key]] = {}
    for load in making.loads:
        if _key(load) in starts:
            by_size.setdefault(load.figure.factor, []).append(_key(load))
    turned: dict[_Key, _Start] = {}
    for keys in by_size.values():
        turned |= zip(keys, sorted(starts[key] for key in keys), strict=True)
    return turned


def _task(load: Load, due_min: float) -> Task:
    kept, ml = load.batch.kept_in, load.figure.yield_ml
    stands = None if kept is None or ml is None else (kept.id, ml, math.ceil(load.until_min))
    return Task(
        id=str(_key(load)),
        pieces=pieces_of(load.steps),
        due_min=math.floor(due_min + 1e-6),
        ready_from_min=math.ceil(load.ready_from_min - 1e-6),
        stands=stands,
    )


def _with_starts(
    menu: Menu, plan: BatchPlan, starts: Mapping[_Key, _Start], opens: int
) -> BatchPlan:
    """The plan with its loads where they found a place, numbered as they are made that day; what is
    left carries over where it is still good at that hour of the next day."""
    of_making = [
        [
            replace(load, start_min=start.min, waits_for=start.waits_for)
            for load in making.loads
            for start in [starts[_key(load)]]
        ]
        for making in plan.makings
    ]
    made = sorted((load for loads in of_making for load in loads), key=lambda load: load.order)
    numbers = {_key(load): number for number, load in enumerate(made, 1)}
    makings = tuple(
        replace(making, loads=tuple(
            replace(load, number=numbers[_key(load)], of=len(made))
            for load in sorted(loads, key=lambda load: load.order)
        ))
        for making, loads in zip(plan.makings, of_making, strict=True)
    )  # fmt: skip
    left = (load.ready_min for making in makings for load in making.left_of)
    good = [good_until(menu, plan.batch, ready) for ready in left if ready is not None]
    return replace(plan, makings=makings, carries_over=min(good, default=0) > opens + DAY_MIN)


def _goes_in_min(load: Load, item: Item) -> float:
    """When a part goes into a load; of a load without a place, when it should."""
    start = load.start_min
    if start is None:
        start = math.floor(load.from_min) - load.minutes
    return start + sum(one.minutes for one in load.steps[: goes_in_at(load.batch, item.id)])


def component_needs(
    day: DaySales, servings: Mapping[tuple[str, str], Serving]
) -> tuple[list[ComponentNeed], tuple[NotPlanned, ...]]:
    """Grams and ml of every component for the day's sales, and the sales nothing is known of."""
    found: dict[str, tuple[Component, float, float, Fraction]] = {}
    missing: list[NotPlanned] = []

    def add(component: Component, mass_g: float, volume_ml: float, times: Fraction) -> None:
        _, grams, ml, count = found.get(component.id, (component, 0.0, 0.0, Fraction(0)))
        more_g, more_ml = mass_g * float(times), volume_ml * float(times)
        found[component.id] = component, grams + more_g, ml + more_ml, count + times

    for line in day.lines:
        serving = servings.get((line.drink.id, line.cup.id))
        if serving is None:
            missing.append(NotPlanned(line.drink.id, line.cup.id))
            continue
        for used in serving.used:
            if used.mass_g > 0:
                add(used.component, used.mass_g, used.volume_ml, Fraction(line.count))
        for swap, count in line.swaps:
            other = serving.choices[replace(serving.choice, swaps=(swap.id,))]
            for made, sign in ((serving, -1), (other, 1)):
                for used in made.used:
                    if used.mass_g > 0:
                        add(used.component, used.mass_g, used.volume_ml, Fraction(sign * count))
        for add_on, times in line.add_ons:
            amount = add_on.amounts.get(line.cup.id)
            if amount is not None and times > 0:
                add(add_on.component, amount.mass_g, amount.volume_ml, times)
    # Of what every guest swapped, nothing is left but the rounding of sums.
    needs = [
        ComponentNeed(one, g, ml, round(times)) for one, g, ml, times in found.values() if times > 0
    ]
    return needs, tuple(missing)


def outer_first(menu: Menu) -> tuple[Batch, ...]:
    """The batches ordered so that each comes before the batches inside it."""
    inside = {
        batch.id: [part.item.id for part in batch.parts if isinstance(part.item, Batch)]
        for batch in menu.batches.values()
    }
    inner_first = [*TopologicalSorter(inside).static_order()]
    return tuple(menu.batches[id_] for id_ in reversed(inner_first))


def _depths(menu: Menu) -> dict[str, int]:
    """How many batches each stands in, one in the other, at most."""
    depths = dict.fromkeys(menu.batches, 0)
    for batch in outer_first(menu):
        for part in batch.parts:
            if isinstance(part.item, Batch):
                depths[part.item.id] = max(depths[part.item.id], depths[batch.id] + 1)
    return depths
