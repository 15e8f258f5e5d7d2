"""A day whose plan leaves loads without a place goes in; what would let it be done comes out.

Nothing is argued: each change is planned, and those that leave nothing late are named, of how much
earlier and of how long on the evening before the least. First one change alone; where none is
enough, two together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from itertools import combinations

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import DaySales, Menu
from buildsheets.prep.dayplan import Change, DayPlan, plan_day

STEPS_MIN = (10, 20, 30, 45, 60, 90, 120, 180)
"""How much earlier people are tried to come, and how long somebody on the evening before."""

Steps = tuple[Change, ...]
"""Changes of one kind, the least first."""


def what_helps(
    menu: Menu,
    day: DaySales,
    servings: Mapping[tuple[str, str], Serving],
    plan: DayPlan,
    on_hand: Mapping[str, float] | None = None,
) -> tuple[Change, ...]:
    """Changes that leave no load late; none for a day that can be done as it is."""

    def enough(change: Change) -> bool:
        tried = plan_day(menu, day, servings, on_hand, plan.on, change, cuts=False)
        return not tried.not_in_time

    if not plan.not_in_time:
        return ()
    kinds = _kinds(menu, plan)
    pairs = (
        tuple(_both(one, other) for one in first for other in second)
        for first, second in combinations(kinds, 2)
    )
    # two together are many: where the most of both is not enough, less is not tried
    return _least(kinds, enough) or _least((both for both in pairs if enough(both[-1])), enough)


def _least(kinds: Iterable[Steps], enough: Callable[[Change], bool]) -> tuple[Change, ...]:
    """Of each kind the first that is enough."""
    found = (next(filter(enough, steps), None) for steps in kinds)
    return tuple(change for change in found if change is not None)


def _kinds(menu: Menu, plan: DayPlan) -> tuple[Steps, ...]:
    """One more person, one more of each thing in use; where people are written, the first to come
    earlier, and somebody on the evening before, when what keeps can be made."""
    used = {thing.id for load in plan.loads for one in load.steps for thing in one.step.on}
    used |= {load.batch.kept_in.id for load in plan.loads if load.batch.kept_in is not None}
    kinds: list[Steps] = [(Change(people=1),)]
    kinds += [(Change(things=(id_,)),) for id_ in menu.kitchen if id_ in used]
    if plan.day.people:
        kinds.append(tuple(Change(earlier_min=minutes) for minutes in STEPS_MIN))
        kinds.append(tuple(Change(evening_min=minutes) for minutes in STEPS_MIN))
    return tuple(kinds)


def _both(one: Change, other: Change) -> Change:
    return Change(
        people=one.people + other.people,
        earlier_min=one.earlier_min + other.earlier_min,
        things=one.things + other.things,
        evening_min=one.evening_min + other.evening_min,
    )
