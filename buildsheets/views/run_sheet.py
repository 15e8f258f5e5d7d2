"""A day's loads with their times go in; what to weigh and do, minute by minute, comes out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from buildsheets.menu.clock import DAY_MIN, clock
from buildsheets.prep.dayplan import DayPlan
from buildsheets.prep.loads import StepTime
from buildsheets.prep.makings import Load
from buildsheets.views import rounding
from buildsheets.views.words import Words

Row = tuple[str, ...]

RUN_KEYS = ("prep_start", "prep_batch", "prep_do", "prep_with", "prep_hands", "prep_until")
WEIGH_KEYS = ("prep_batch", "prep_one_load", "prep_number", "prep_parts")


@dataclass(frozen=True, slots=True)
class _Turn:
    """Steps of one load that need a person in one go, with the waiting after them."""

    load: Load
    steps: tuple[StepTime, ...]
    start_min: int
    hands_min: int
    end_min: int


def runs(plan: DayPlan, words: Words) -> Iterator[tuple[str, list[Row]]]:
    """For each day that has work, its title and a row for each time somebody turns to a load, in
    the order of the clock."""
    turns = [turn for load in plan.loads for turn in _turns(load)]
    turns.sort(key=lambda t: (t.start_min, t.end_min, t.load.batch.id, t.load.number))
    for day, of_day in groupby(turns, key=lambda turn: turn.start_min // DAY_MIN):
        title = rounding.on_day(words, day) or words.name(plan.day)
        yield words("prep_run_title", day=title), [_row(turn, words) for turn in of_day]


def _turns(load: Load) -> Iterator[_Turn]:
    steps: list[StepTime] = []
    start = hands = end = 0
    for one, begins, ends in load.timed:
        busy_so_far = hands == end - start
        if steps and one.hands_min and not busy_so_far:
            yield _Turn(load, tuple(steps), start, hands, end)
            steps = []
        if not steps:
            start, hands, busy_so_far = begins, 0, True
        hands += one.hands_min if busy_so_far else 0
        steps.append(one)
        end = ends
    if steps:
        yield _Turn(load, tuple(steps), start, hands, end)


def _row(turn: _Turn, words: Words) -> Row:
    load = turn.load
    day_min = turn.start_min // DAY_MIN * DAY_MIN
    until, days = clock(turn.end_min - day_min)
    if days:
        until = words("prep_time_next_day", time=until)
    last = turn.steps[-1] is load.steps[-1]
    hands = words("prep_min", min=turn.hands_min) if turn.hands_min else words("prep_waiting")
    return (
        clock(turn.start_min)[0],
        load_name(load, words),
        "; ".join(_doing(one, words) for one in turn.steps),
        _with(turn.steps, words),
        hands,
        words("prep_then_ready", time=until) if last else until,
    )


def load_name(load: Load, words: Words) -> str:
    """The batch, and which of its loads: "Black tea 1/3"."""
    which = f" {load.number}/{load.of}" if load.of > 1 else ""
    return f"{words.name(load.batch)}{which}"


def late_name(load: Load, words: Words) -> str:
    """A load that is not in time, and by how much."""
    needed = rounding.clock(words, load.from_min)
    late = words("prep_no_place") if load.start_min is None else _late(load, words)
    return f"{load_name(load, words)} ({words('prep_for', time=needed)}: {late})"


def _late(load: Load, words: Words) -> str:
    return words("prep_late", min=load.late_min)


def _doing(one: StepTime, words: Words) -> str:
    at_c = one.step.temperature_c
    text = words.text(one.step.text)
    return text if at_c is None else f"{text} ({rounding.celsius(words, at_c)})"


def _with(steps: Iterable[StepTime], words: Words) -> str:
    steps = tuple(steps)
    names = dict.fromkeys(words.name(thing) for one in steps for thing in one.step.on)
    ice_g = sum(one.ice_g for one in steps)
    ice = [words("prep_ice", kg=rounding.kilograms(words, ice_g))] if ice_g else []
    return ", ".join([*names, *ice])


def weigh_rows(plan: DayPlan, words: Words) -> Iterator[Row]:
    """A row for each size of load of each batch, in the order they are made."""
    loads = sorted(plan.loads, key=lambda load: load.order)
    sizes = Counter((load.batch.id, round(load.figure.factor, 6)) for load in loads)
    first: dict[tuple[str, float], Load] = {}
    for load in loads:
        first.setdefault((load.batch.id, round(load.figure.factor, 6)), load)
    for size, load in first.items():
        parts = (
            f"{words.name(part.part.item)} {rounding.grams(words, part.weigh_g)} {words('prep_g')}"
            for part in load.figure.parts
        )
        water = max((one.step.water_ml or 0.0 for one in load.steps), default=0.0)
        cooking = [words("prep_water", amount=rounding.millilitres(
            words, water * load.figure.factor, up=True))] if water else []  # fmt: skip
        scale = rounding.factor(words, load.figure.factor)
        yield words.name(load.batch), scale, f"{sizes[size]}", " · ".join([*parts, *cooking])


def run_notes(plan: DayPlan, words: Words) -> Iterator[str]:
    """What is not in time, whose hands it is planned for, ice to have, steps without a time."""
    if plan.not_in_time:
        names = "; ".join(late_name(load, words) for load in plan.not_in_time)
        yield words("prep_cannot", names=names)
    if not plan.loads:
        return
    untimed = {load.batch.id: load.batch for load in plan.loads if load.untimed}
    if untimed:
        yield words("prep_untimed", names=words.names(untimed.values()))
    busy, there, at = plan.most_hands
    if busy and plan.day.people:
        time = rounding.clock(words, at)
        yield words("prep_most_hands", busy=busy, there=there, time=time)
    elif busy:
        yield words("prep_one_pair")
    if plan.ice_g:
        yield words("prep_ice_note", kg=rounding.kilograms(words, plan.ice_g))
