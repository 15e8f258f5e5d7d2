"""A batch and what is needed of it go in; the loads to make and how long their steps take come out.

A load is what a vessel takes at once. A step takes the time written, whatever the load; without
one, the time its things' power needs to bring what is in it from one temperature to the other.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise

from buildsheets.cup.chill import WATER_HEAT
from buildsheets.menu.model import Batch, BatchPart, BatchStep, Shop, Thing
from buildsheets.menu.tables import ROOM_C
from buildsheets.prep.batches import BatchFigure, figure_batch, pack_grams, put_in_ml, volume_of
from buildsheets.prep.heat import heat_j, ice_g, minutes, solids_share, specific_heat
from buildsheets.prep.keeping import CoolingStep, cooling_steps
from buildsheets.prep.scaling import to_scales
from buildsheets.prep.schedule import Piece
from buildsheets.prep.yields import whole_above, whole_below


@dataclass(frozen=True, slots=True)
class StepTime:
    """A step of one load: whole minutes, how many of them a person is busy, and its heat.

    ``known`` is false where no time is written and none can be figured: it counts as 0.
    """

    step: BatchStep
    minutes: int
    hands_min: int
    from_c: float
    to_c: float
    in_ml: float
    ice_g: float
    known: bool = True


def step_times(batch: Batch, factor: float = 1.0) -> tuple[StepTime, ...]:
    """How long each step of a load takes."""
    found, at_c = [], ROOM_C
    for step, parts in zip(batch.steps, _inside(batch), strict=True):
        from_c = at_c if step.from_c is None else step.from_c
        at_c = from_c if step.temperature_c is None else step.temperature_c
        water = (step.water_ml or 0.0) * factor
        weights = [(p.mass_g * factor, specific_heat(solids_share(p.item))) for p in parts]
        joules = heat_j([*weights, (water, WATER_HEAT)], from_c, at_c)
        took: float | None = None
        if step.time_s is not None:
            took = step.time_s / 60.0
        elif step.power_w and joules:
            took = minutes(joules, step.power_w)
        whole = whole_above(took or 0.0)
        hands = whole if step.hands_on_s is None else whole_above(step.hands_on_s / 60.0)
        found.append(
            StepTime(
                step=step,
                minutes=whole,
                hands_min=min(hands, whole),
                from_c=from_c,
                to_c=at_c,
                in_ml=water + factor * sum(_ml(part) for part in parts),
                ice_g=ice_g(-joules) if step.on_ice and joules < 0 else 0.0,
                known=took is not None,
            )
        )
    return tuple(found)


def _inside(batch: Batch) -> Iterator[tuple[BatchPart, ...]]:
    """The parts that are in at each step."""
    named = {item.id for step in batch.steps for item in step.adds}
    inside = {part.item.id for part in batch.parts} - named
    for step in batch.steps:
        inside |= {item.id for item in step.adds}
        yield tuple(part for part in batch.parts if part.item.id in inside)


def _ml(part: BatchPart) -> float:
    """Its volume, at 1 g/ml where no density is known."""
    volume = volume_of(part)
    return part.mass_g if volume is None else volume


def goes_in_at(batch: Batch, item_id: str) -> int:
    """The number of the step at which a part goes in; 0, the first, where none names it."""
    return next(
        (n for n, step in enumerate(batch.steps) if item_id in {one.id for one in step.adds}), 0
    )


def pieces_of(times: tuple[StepTime, ...]) -> tuple[Piece, ...]:
    """The steps as work to place: one of each thing in use, of a fridge the ml that stand in it."""
    return tuple(
        Piece(one.minutes, one.hands_min, tuple(_uses(one))) for one in times if one.minutes > 0
    )


def _uses(one: StepTime) -> Iterator[tuple[str, float]]:
    things = {thing.id: thing for thing in one.step.on}
    for id_, count in Counter(thing.id for thing in one.step.on).items():
        yield id_, one.in_ml if things[id_].keeps else float(count)


def amount_of(thing: Thing) -> float | None:
    """How much of it there is at once: ml of a fridge, else the number; ``None`` if no limit."""
    if not thing.keeps:
        return float(thing.count)
    return None if thing.room_ml is None else thing.room_ml * thing.count


def largest_load(batch: Batch) -> float | None:
    """The most of a full batch that every vessel takes; ``None`` where none limits it.

    A bowl or pot of the batch takes its fullest moment, a thing of the kitchen what is in it.
    """
    figure, limits = figure_batch(batch), [one.largest for one in vessels(batch)]
    if batch.bowl_ml is not None:
        fullest_ml = max(figure.whipped_ml or 0.0, put_in_ml(figure))
        limits.append(batch.bowl_ml * batch.bowl_fill_share / fullest_ml)
    return min(limits, default=None)


@dataclass(frozen=True, slots=True)
class Vessel:
    """A thing at a step: its room, and what a full batch fills of it."""

    thing: Thing
    step: BatchStep
    room_ml: float
    full_ml: float

    @property
    def largest(self) -> float:
        """The most of a full batch that it takes."""
        return self.room_ml / self.full_ml


def vessels(batch: Batch) -> Iterator[Vessel]:
    """The things that hold a load at its steps: what is in by then, once all is in also what it is
    whipped to."""
    swollen = figure_batch(batch).whipped_ml or 0.0
    for one, parts in zip(step_times(batch), _inside(batch), strict=True):
        full_ml = max(one.in_ml, swollen) if len(parts) == len(batch.parts) else one.in_ml
        for thing in one.step.on:
            if thing.room_ml is not None and not thing.keeps and full_ml > 0:
                yield Vessel(thing, one.step, thing.room_ml, full_ml)


def split(batch: Batch, share: float) -> tuple[float, ...]:
    """The loads that cover a share of a full batch, as even as what the shop makes allows.

    Each is a whole number of lead packs or of its smallest scale, the largest first, and no more
    than fits; a shop whose vessel takes less than that has a finding of its own (BAT06).
    """
    total, largest = to_scales(batch, share).factor, largest_load(batch)
    smallest = _smallest(batch)
    if largest is None:
        return (total,)
    if smallest is None:
        count = whole_above(total / largest)
        return (total / count,) * count
    units, most = round(total / smallest), max(1, whole_below(largest / smallest))
    count = math.ceil(units / most)
    each, over = divmod(units, count)
    return tuple((each + (number < over)) * smallest for number in range(count))


def _smallest(batch: Batch) -> float | None:
    if batch.lead is not None and (grams := pack_grams(batch.lead)) is not None:
        need = sum(part.mass_g for part in batch.parts if part.item.id == batch.lead.id)
        return grams / need
    smallest = min(batch.scales.values(), default=0.0)
    return smallest if smallest > 0 else None


def load_figure(batch: Batch, factor: float, step_g: float) -> BatchFigure:
    """A load with its weights taken up to the scale's step: together they never fall short."""
    figure = figure_batch(batch, factor, step_g)
    parts = (
        replace(part, weigh_g=whole_above(part.exact_g / step_g) * step_g) for part in figure.parts
    )
    return replace(figure, parts=tuple(parts))


@dataclass(frozen=True, slots=True)
class Cooled:
    """A load's cooling that is slower than the rules allow: its minutes, and how many too many."""

    rule: CoolingStep
    minutes: float
    over_min: float


def slow_cooling(shop: Shop, batch: Batch, times: tuple[StepTime, ...]) -> Cooled | None:
    """The worst breach of Food Code 3-501.14 by the times of a load; ``None`` where there is none
    or nothing says how it cools.

    Counted from the start of the step that cools it below 57 °C, or below the most it was warmed
    to; from the start of the work for what never was: no shorter than the clock of the rule.
    Within a step it falls evenly, while food falls fastest at first: no sooner than in truth.
    """
    worst: Cooled | None = None
    for rule in cooling_steps(shop, batch):
        took = _minutes_to(times, rule)
        if took is None or rule.within_h is None:
            continue
        over_min = took - 60.0 * rule.within_h
        if over_min > (worst.over_min if worst else 0.0):
            worst = Cooled(rule, took, over_min)
    return worst


def _minutes_to(times: tuple[StepTime, ...], rule: CoolingStep) -> float | None:
    began: float | None = 0.0
    reached: float | None = None
    warmest_c = math.inf if rule.from_c is None else rule.from_c
    starts = accumulate((one.minutes for one in times), initial=0)
    for one, (start, end) in zip(times, pairwise(starts), strict=True):
        if one.to_c >= warmest_c:
            began, reached = None, None  # heated again: the clock starts anew
        elif one.from_c >= warmest_c:
            began, reached = float(start), None
        if began is None or reached is not None or one.to_c > rule.to_c + 1e-6:
            continue
        fall, needed = one.from_c - one.to_c, one.from_c - min(rule.to_c, one.from_c)
        share = needed / fall if fall > 0 else 0.0
        reached = start + share * (end - start) - began
    return reached
