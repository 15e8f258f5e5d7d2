"""When a batch is needed goes in; its makings, cut into loads with the hours each serves, come out.

A batch that keeps for hours is made again in equal stretches no longer than it keeps, one that
keeps for days anew from the midnight of its last. Shares are of one full batch's yield, so batches
known only in ml plan as well as those known in grams.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import NamedTuple

from buildsheets.menu.model import Batch, BatchStep, Menu
from buildsheets.menu.when import DAY_MIN
from buildsheets.prep.batches import BatchFigure, figure_batch, scale_step_g
from buildsheets.prep.keeping import time_control_h
from buildsheets.prep.loads import Cooled, StepTime, load_figure, slow_cooling, split, step_times
from buildsheets.prep.yields import packs_for

_NOISE = 1e-9


@dataclass(frozen=True, slots=True)
class Demand:
    """A need in full batches, even between two moments or all at one."""

    from_min: float
    to_min: float
    share: float

    def between(self, start: float, end: float, *, last: bool) -> float:
        """What of it falls from one moment up to another, or later where that is the ``last``."""
        if self.to_min <= self.from_min:
            inside = start <= self.from_min < end or (last and self.from_min >= end)
            return self.share if inside else 0.0
        overlap = min(self.to_min, end) - max(self.from_min, start)
        return self.share * max(0.0, overlap) / (self.to_min - self.from_min)


class Timed(NamedTuple):
    """A step of a load with its start and its end."""

    step: StepTime
    start_min: int
    until_min: int


@dataclass(frozen=True, slots=True)
class Load:
    """What is made at once, and when: ``number`` of all loads of its batch that day.

    ``from_min`` is when the loads before it have run out, ``until_min`` when it has. ``start_min``
    is ``None`` where it found no place. ``late_min`` counts from ``from_min``; ``waits_for`` are
    the things (or hands) of which any alone, were there no end of it, would let it be in time.
    """

    batch: Batch
    number: int
    of: int
    figure: BatchFigure
    steps: tuple[StepTime, ...]
    from_min: float
    until_min: float
    ready_from_min: float  # made before that, the last of it would be served past its keeping
    start_min: int | None = None
    waits_for: tuple[str, ...] = ()

    @property
    def minutes(self) -> int:
        return sum(one.minutes for one in self.steps)

    @property
    def ready_min(self) -> int | None:
        return None if self.start_min is None else self.start_min + self.minutes

    @property
    def late_min(self) -> int:
        ready = self.ready_min
        return 0 if ready is None else max(0, ready - int(self.from_min + _NOISE))

    @property
    def order(self) -> tuple[int, str, int]:
        """By the clock; what has no place comes last."""
        return DAY_MIN * 9 if self.start_min is None else self.start_min, self.batch.id, self.number

    @property
    def in_time(self) -> bool:
        return self.start_min is not None and self.late_min == 0

    def is_there(self, at_min: float) -> bool:
        """Whether it is ready by then."""
        ready = self.ready_min
        return ready is not None and ready <= at_min

    @property
    def timed(self) -> Iterator[Timed]:
        """Each step with its start and its end; nothing without a place."""
        if self.start_min is None:
            return iter(())
        ends = accumulate((one.minutes for one in self.steps), initial=self.start_min)
        return (Timed(one, *times) for one, times in zip(self.steps, pairwise(ends), strict=True))

    @property
    def untimed(self) -> tuple[BatchStep, ...]:
        """Steps whose time is neither written nor can be figured: they count as 0 min."""
        return tuple(one.step for one in self.steps if not one.known)

    @property
    def ice_g(self) -> float:
        return sum(one.ice_g for one in self.steps)


@dataclass(frozen=True, slots=True)
class Making:
    """One making of a batch; minutes count from midnight of the day and may lie before opening.

    ``share`` is what it has to cover, in full batches; ``figure`` what is made, rounded up to what
    the shop makes. ``from_min`` and ``until_min`` are the stretch it serves.
    """

    batch: Batch
    number: int
    from_min: float
    until_min: float
    share: float
    figure: BatchFigure
    loads: tuple[Load, ...]

    @property
    def start_min(self) -> float:
        """When its first load starts; of one without a place, when it should."""
        starts = [load.start_min for load in self.loads if load.start_min is not None]
        return min(starts, default=self.from_min - max(load.minutes for load in self.loads))

    @property
    def first_ready_min(self) -> float:
        """When its first load is ready."""
        return min(self._ready, default=self.from_min)

    @property
    def ready_min(self) -> float:
        """When its last load is ready."""
        return max(self._ready, default=self.from_min)

    @property
    def _ready(self) -> list[int]:
        return [load.ready_min for load in self.loads if load.ready_min is not None]

    @property
    def left_share(self) -> float:
        """Made and not needed, in full batches."""
        return self.figure.factor - self.share

    @property
    def left_of(self) -> Iterator[Load]:
        """The loads that what is left is of: the last ones, since the first are used first."""
        left = self.left_share
        for load in reversed(self.loads):
            yield load
            left -= load.figure.factor
            if left <= _NOISE:
                break


@dataclass(frozen=True, slots=True)
class BatchPlan:
    """A batch over the day, in full batches: the day's need (``share``), makings, what is left."""

    batch: Batch
    full: BatchFigure  # at factor 1
    share: float
    makings: tuple[Making, ...]
    carries_over: bool = False  # what is left may be used tomorrow
    from_stock: float = 0.0  # of what is on hand when the day begins

    def ready(self, at_min: float) -> float:
        """What is ready by then: what is used of what is on hand, and all that is made."""
        return self.from_stock + sum(
            load.figure.factor for load in self.loads if load.is_there(at_min)
        )

    def amount(self, share: float) -> tuple[float | None, float | None]:
        """Grams and ml that a share of a full batch gives, what is known of them."""
        grams, ml = self.full.yield_g, self.full.yield_ml
        return None if grams is None else grams * share, None if ml is None else ml * share

    @property
    def left_share(self) -> float:
        """Left at closing (or thrown out between makings), in full batches."""
        return sum(making.left_share for making in self.makings)

    @property
    def loads(self) -> tuple[Load, ...]:
        return tuple(load for making in self.makings for load in making.loads)


def keeps_min(menu: Menu, batch: Batch) -> float | None:
    """Minutes a batch serves after it is made; ``None`` when it keeps for days."""
    own = batch.keeps_for.hours if batch.keeps_for is not None else None
    hours = [h for h in (own, time_control_h(menu.shop, batch)) if h is not None]
    return 60.0 * min(hours) if hours else None


def ready_from(menu: Menu, batch: Batch, until_min: float) -> float:
    """The earliest a load may be ready whose last is served then: hours count from the minute,
    days from the day it is made, to midnight of the last (Food Code 3-501.17)."""
    keeps = keeps_min(menu, batch)
    last_day = math.ceil((until_min - _NOISE) / DAY_MIN) - 1  # 0 is the planned day
    by_days = float(DAY_MIN * (last_day - _days(menu, batch) + 1))
    return by_days if keeps is None else max(by_days, until_min - keeps)


def good_until(menu: Menu, batch: Batch, ready_min: float) -> float:
    """The latest a load may be served that is ready then."""
    keeps = keeps_min(menu, batch)
    by_days = float(DAY_MIN * (math.floor(ready_min / DAY_MIN) + _days(menu, batch)))
    return by_days if keeps is None else min(by_days, ready_min + keeps)


def _days(menu: Menu, batch: Batch) -> int:
    """How many days a batch may be used, the one it is made on the first of them."""
    own = batch.keeps_for.days if batch.keeps_for is not None else None
    return min(menu.shop.rule_days, own or menu.shop.rule_days)


def plan_batch(
    menu: Menu, batch: Batch, demand: Sequence[Demand], more: int, *, smallest_first: bool
) -> BatchPlan:
    """The makings of a batch, in as few stretches as it keeps for and ``more``; no load of them
    has a start yet."""
    first = min(d.from_min for d in demand)
    last = max(d.to_min for d in demand)
    makings: list[Making] = []
    stretches = [*_stretches(menu, batch, first, last, more)]
    for number, (start, end) in enumerate(stretches, 1):
        at_end = number == len(stretches)
        share = sum(d.between(start, end, last=at_end) for d in demand)
        if share > 0:
            curve = _curve(demand, start, end, last=at_end)
            factors = split(batch, share)[:: -1 if smallest_first else 1]
            stretch, place = (start, end), len(makings) + 1
            makings.append(_making(menu, batch, place, stretch, share, curve, factors))
    total = sum(d.share for d in demand)
    return BatchPlan(batch, figure_batch(batch), total, tuple(makings))


def _stretches(
    menu: Menu, batch: Batch, first: float, last: float, more: int
) -> Iterator[tuple[float, float]]:
    """From and to of what each making serves: no longer than what is ready by then keeps."""
    keeps, days = keeps_min(menu, batch), _days(menu, batch)
    while True:
        until = min(last, DAY_MIN * (math.floor(first / DAY_MIN) + days))
        count = 1 if keeps is None else max(1, packs_for(until - first, keeps)[0]) + more
        edges = (first + (until - first) * number / count for number in range(count + 1))
        yield from pairwise(edges)
        if until >= last:
            break
        first = until


_Curve = list[tuple[float, float]]
"""(minute, share needed up to then), both rising; a need of one moment is a step up."""


def _curve(demand: Sequence[Demand], start: float, end: float, *, last: bool) -> _Curve:
    turns = {start, end} | {t for d in demand for t in (d.from_min, d.to_min) if start < t < end}
    curve, total = [(start, 0.0)], 0.0
    for begin, stop in pairwise(sorted(turns)):
        at_once = sum(d.share for d in demand if d.from_min == d.to_min == begin)
        total += at_once
        curve.append((begin, total))
        total += sum(d.between(begin, stop, last=False) for d in demand if d.to_min > d.from_min)
        curve.append((stop, total))
    if last or start == end:
        at_end = sum(d.share for d in demand if d.from_min == d.to_min and d.from_min >= end)
        curve.append((end, total + at_end))
    return curve


def _runs_out(curve: _Curve, share: float) -> tuple[float, float]:
    """The first moment by which a share is used up, and the last before more than it is needed."""
    noise = _NOISE * max(1.0, curve[-1][1])
    used_up = needed = curve[-1][0]
    for (t0, s0), (t1, s1) in pairwise(curve):
        if s1 >= share - noise:
            used_up = t0 if s1 <= s0 or s0 >= share else t0 + (t1 - t0) * (share - s0) / (s1 - s0)
            break
    for (t0, s0), (t1, s1) in pairwise(curve):
        if s1 > share + noise:
            needed = t0 + (t1 - t0) * max(0.0, share - s0) / (s1 - s0)
            break
    return used_up, needed


def _making(
    menu: Menu,
    batch: Batch,
    number: int,
    stretch: tuple[float, float],
    share: float,
    curve: _Curve,
    factors: tuple[float, ...],
) -> Making:
    step_g = scale_step_g(menu)
    loads, made = [], 0.0
    for place, factor in enumerate(factors, 1):
        needed = _runs_out(curve, made)[1] if made else stretch[0]
        made += factor
        until = max(needed, _runs_out(curve, min(made, share))[0])
        figure, steps = load_figure(batch, factor, step_g), step_times(batch, factor)
        earliest = ready_from(menu, batch, until)
        loads.append(Load(batch, place, len(factors), figure, steps, needed, until, earliest))
    figure = figure_batch(batch, sum(factors), step_g)
    return Making(batch, number, *stretch, share, figure, tuple(loads))


def cooled_slowly(menu: Menu, load: Load) -> Cooled | None:
    """Whether a load cools slower than the shop's rules allow."""
    return slow_cooling(menu.shop, load.batch, load.steps)
