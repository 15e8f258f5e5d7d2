"""A day's loads with their times go in; what to weigh and do, minute by minute, comes out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from buildsheets.menu.components import Ice
from buildsheets.menu.model import Ingredient
from buildsheets.menu.when import DAY_MIN, clock
from buildsheets.prep.dayplan import DayPlan
from buildsheets.prep.loads import StepTime
from buildsheets.prep.makings import Load
from buildsheets.views import rounding
from buildsheets.views.words import Words

Row = tuple[str, ...]

RUN_KEYS = ("prep_start", "prep_batch", "prep_do", "prep_with", "prep_hands", "prep_until")
WEIGH_KEYS = ("prep_one_load", "prep_number", "prep_parts")


@dataclass(frozen=True, slots=True)
class _Turn:
    """Steps of one load at whose borders nothing happens: the same things stay in use, nothing
    goes in, and nobody has to come back."""

    load: Load
    steps: tuple[StepTime, ...]
    start_min: int
    hands_min: int
    end_min: int


def runs(plan: DayPlan, words: Words) -> Iterator[tuple[str, list[Row]]]:
    """For each day that has work, its title and a row for each time somebody turns to a load, in
    the order of the clock."""
    for day, turns in _by_day(plan):
        title = rounding.on_day(words, day) or words.name(plan.day)
        yield words("prep_run_title", day=title), [_row(turn, words) for turn in turns]


def _by_day(plan: DayPlan) -> Iterator[tuple[int, list[_Turn]]]:
    turns = [turn for load in plan.loads for turn in _turns(load)]
    turns.sort(key=lambda t: (t.start_min, t.end_min, t.load.batch.id, t.load.number))
    for day, of_day in groupby(turns, key=lambda turn: turn.start_min // DAY_MIN):
        yield day, list(of_day)


def _turns(load: Load) -> Iterator[_Turn]:
    steps: list[StepTime] = []
    start = hands = end = 0
    for one, begins, ends in load.timed:
        busy_so_far = hands == end - start
        if steps and not (_goes_on(steps[-1], one) and (busy_so_far or not one.hands_min)):
            yield _Turn(load, tuple(steps), start, hands, end)
            steps = []
        if not steps:
            start, hands, busy_so_far = begins, 0, True
        hands += one.hands_min if busy_so_far else 0
        steps.append(one)
        end = ends
    if steps:
        yield _Turn(load, tuple(steps), start, hands, end)


def _goes_on(before: StepTime, one: StepTime) -> bool:
    """Whether a step leaves all as it is."""
    things = [Counter(thing.id for thing in each.step.on) for each in (before, one)]
    return (
        things[0] == things[1] and not one.step.adds and before.step.water_ml == one.step.water_ml
    )


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
        "; ".join(_doings(turn, words)),
        _with(turn.steps, words),
        hands,
        words("prep_then_ready", time=until) if last else until,
    )


def load_name(load: Load, words: Words) -> str:
    """The batch, which of its loads of the day, and its size: "Black tea 1/3 × 2"."""
    which = f" {load.number}/{load.of}" if load.of > 1 else ""
    return f"{words.name(load.batch)}{which} {rounding.factor(words, load.figure.factor)}"


def late_name(load: Load, words: Words) -> str:
    """A load that is not in time, and by how much."""
    needed = rounding.clock(words, load.from_min)
    late = words("prep_no_place") if load.start_min is None else _late(load, words)
    return f"{load_name(load, words)} ({words('prep_for', time=needed)}: {late})"


def _late(load: Load, words: Words) -> str:
    return words("prep_late", min=load.late_min)


def _doings(turn: _Turn, words: Words) -> Iterator[str]:
    """What to do, and of all but the last until when."""
    end = turn.start_min
    for one in turn.steps[:-1]:
        end += one.minutes
        yield words("prep_do_until", do=_doing(one, words), time=clock(end)[0])
    yield _doing(turn.steps[-1], words)


def _doing(one: StepTime, words: Words) -> str:
    at_c = one.step.temperature_c
    text = words.text(one.step.text)
    return text if at_c is None else f"{text} ({rounding.celsius(words, at_c)})"


def _with(steps: Iterable[StepTime], words: Words) -> str:
    steps = tuple(steps)
    names = dict.fromkeys(words.name(thing) for one in steps for thing in one.step.on)
    ice_g = _ice_g(steps)
    ice = [words("prep_ice", kg=rounding.kilograms(words, ice_g))] if ice_g else []
    return ", ".join([*names, *ice])


def _ice_g(steps: Iterable[StepTime]) -> float:
    return sum(one.ice_g for one in steps)


def weigh_rows(plan: DayPlan, words: Words) -> Iterator[Row]:
    """A row for each size of load, named as on the run sheet, with the numbers of its loads: by
    batch as they are begun, the largest first."""
    sizes: dict[str, dict[float, list[Load]]] = {}
    for load in sorted(plan.loads, key=lambda load: load.order):
        of_batch = sizes.setdefault(load.batch.id, {})
        of_batch.setdefault(round(load.figure.factor, 6), []).append(load)
    for of_batch in sizes.values():
        for _, loads in sorted(of_batch.items(), reverse=True):
            size = rounding.factor(words, loads[0].figure.factor)
            numbers = ", ".join(f"{load.number}" for load in loads)
            name = f"{words.name(loads[0].batch)} {size}"
            yield name, numbers, " · ".join(_weights(loads[0], words))


def _weights(load: Load, words: Words) -> Iterator[str]:
    for part in load.figure.parts:
        item = part.part.item
        amount = f"{rounding.grams(words, part.weigh_g)} {words('prep_g')}"
        if isinstance(item, Ingredient) and item.on_tap and part.volume_ml is not None:
            amount = f"{rounding.poured(words, part.volume_ml)} ({amount})"
        yield f"{words.name(item)} {amount}"
    water = max((one.step.water_ml or 0.0 for one in load.steps), default=0.0)
    if water:
        amount = rounding.prep_volume(words, water * load.figure.factor, up=True)
        yield words("prep_water", amount=amount)


def ice_rows(plan: DayPlan, words: Words) -> Iterator[tuple[str, str]]:
    """The ice of each day of cooling, as much as the lines of the run sheet say together, and of
    the drinks."""
    for day, turns in _by_day(plan):
        tenths = sum(rounding.tenths_of_kg(_ice_g(turn.steps)) for turn in turns)
        if tenths:
            title = rounding.on_day(words, day) or words.name(plan.day)
            yield words("prep_ice_for_cooling", day=title), _kg(tenths * 100, words)
    for need in plan.components:
        if isinstance(need.component, Ice):
            yield words.name(need.component), _kg(need.mass_g, words)


def _kg(grams: float, words: Words) -> str:
    return words("prep_kilograms", kg=rounding.kilograms(words, grams))


def run_notes(plan: DayPlan, words: Words) -> Iterator[str]:
    """What is not in time, whose hands it is planned for, steps without a time."""
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
