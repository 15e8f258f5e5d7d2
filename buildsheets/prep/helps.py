"""A day whose plan leaves loads without a place goes in; what would let it be done comes out.

Nothing is argued: each change is planned, and those that leave nothing late are named. First one
change alone; where none is enough, two together.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations, islice

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import DaySales, Menu
from buildsheets.prep.dayplan import Change, DayPlan, plan_day

EARLIER_MIN = (15, 30, 60, 90, 120, 180)
"""How much earlier people are tried to come; the first that is enough is named."""

TRIES = 2
"""How often shorter stretches are tried for a change; what does then, does with more tries."""


def what_helps(
    menu: Menu,
    day: DaySales,
    servings: Mapping[tuple[str, str], Serving],
    plan: DayPlan,
    on_hand: Mapping[str, float] | None = None,
) -> tuple[Change, ...]:
    """Changes that leave no load late; none for a day that can be done as it is."""

    def enough(change: Change) -> bool:
        return not plan_day(menu, day, servings, on_hand, change, TRIES).not_in_time

    if not plan.not_in_time:
        return ()
    singles = [change for change in _singles(menu, plan) if enough(change)]
    if day.people:
        sooner = (Change(earlier_min=minutes) for minutes in EARLIER_MIN)
        singles += islice(filter(enough, sooner), 1)
    if singles:
        return tuple(singles)
    each = [*_singles(menu, plan, all_before=True)]
    each += [Change(earlier_min=EARLIER_MIN[-1])] if day.people else []
    pairs = (_both(one, other) for one, other in combinations(each, 2))
    return tuple(pair for pair in pairs if enough(pair))


def _singles(menu: Menu, plan: DayPlan, *, all_before: bool = False) -> Iterator[Change]:
    """One more person, one more of each thing in use, each batch that keeps made the day before."""
    yield Change(people=1)
    used = {thing.id for load in plan.loads for one in load.steps for thing in one.step.on}
    used |= {load.batch.kept_in.id for load in plan.loads if load.batch.kept_in is not None}
    yield from (Change(things=(id_,)) for id_ in menu.kitchen if id_ in used)
    keeps = tuple(one.batch.id for one in plan.batches if one.carries_over)
    if all_before:
        yield from [Change(the_day_before=keeps)] if keeps else []
    else:
        yield from (Change(the_day_before=(id_,)) for id_ in keeps)
        yield from [Change(the_day_before=keeps)] if len(keeps) > 1 else []


def _both(one: Change, other: Change) -> Change:
    return Change(
        people=one.people + other.people,
        earlier_min=one.earlier_min + other.earlier_min,
        things=one.things + other.things,
        the_day_before=one.the_day_before + other.the_day_before,
    )
