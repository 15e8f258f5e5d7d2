"""A day's plan and what would help go in; what is wrong with the plan, as findings, comes out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Fix, Label
from buildsheets.findings.spelling import listed
from buildsheets.menu.model import Menu
from buildsheets.menu.when import clock
from buildsheets.prep.dayplan import Change, DayPlan, evening_before
from buildsheets.prep.loads import Cooled
from buildsheets.prep.makings import Load, cooled_slowly
from buildsheets.prep.schedule import HANDS


def day_findings(menu: Menu, plan: DayPlan, helps: Sequence[Change]) -> tuple[Finding, ...]:
    """That it lies outside the season, that it cannot be done, with each change that was planned
    and is enough; and slow cooling."""
    return tuple(
        chain(outside_season(menu, plan), _not_in_time(menu, plan, helps), _slow(menu, plan))
    )


def outside_season(menu: Menu, plan: DayPlan) -> Iterator[Finding]:
    """That on the plan's date another menu is sold than the one it was planned with."""
    edition, day, on = menu.edition, plan.day.id, plan.on
    if on is None or edition.valid_from <= on <= edition.valid_to:
        return
    early = on < edition.valid_from
    yield finding(
        "PLAN03",
        edition.at("valid_from" if early else "valid_to"),
        f"'{day}' is planned for {on}, {'before' if early else 'after'} this menu is sold: "
        f"{edition.code} runs from {edition.valid_from} to {edition.valid_to}",
        "plan it with the menu that is sold then, a copy of its folder from before this season was "
        f"written over it: buildsheets plan {day} --menu COPY; the ledger keeps what cards say, no "
        "menu. If this one is sold then, write an earlier valid_from"
        if early
        else "write the next season, or a later valid_to if this one is still sold then",
        subject=(day,),
    )


def _not_in_time(menu: Menu, plan: DayPlan, helps: Sequence[Change]) -> Iterator[Finding]:
    late, day = plan.not_in_time, plan.day
    if not late:
        return
    count = f"{len(late)} of {len(plan.loads)} loads are" if len(late) > 1 else "a load is"
    tried = "one more person, one more of each thing, coming earlier, the evening before"
    yield finding(
        "PLAN01",
        day.span,
        f"'{day.id}' cannot be done: {count} not ready in time: "
        f"{listed((_late(menu, load) for load in late), 'and')}",
        "each change named was planned again and leaves nothing late"
        if helps
        else f"nothing of this helps, alone or two together: {tried}",
        labels=tuple(
            Label(batch.span, "not in time")
            for batch in {load.batch.id: load.batch for load in late}.values()
        ),
        fixes=tuple(Fix(change_words(menu, plan, change)) for change in helps),
        subject=(day.id,),
    )


def _late(menu: Menu, load: Load) -> str:
    which = f" (load {load.number} of {load.of})" if load.of > 1 else ""
    late = "finds no place" if load.start_min is None else f"is {load.late_min} min late"
    causes = [_cause(menu, thing) for thing in load.waits_for]
    waits = listed(causes, "or") if causes else "several things at once"
    return f"{load.batch.id}{which} for {clock(load.from_min)[0]} {late} (waits for {waits})"


def _cause(menu: Menu, thing: str) -> str:
    if thing == HANDS:
        return "hands"
    return f"room in {thing}" if menu.kitchen[thing].keeps else thing


def change_words(menu: Menu, plan: DayPlan, change: Change) -> str:
    """What to change, as one would say it."""
    said = []
    if change.people:
        more = "one more person" if plan.day.people else "a second pair of hands"
        said.append(f"{more} at all times there is somebody")
    if change.earlier_min:
        said.append(f"the first to come {change.earlier_min} min earlier")
    for id_ in change.things:
        there = menu.kitchen[id_].count
        said.append(f"{there + 1} of {id_} instead of {there}")
    if change.evening_min:
        evening = evening_before(plan.day, change.evening_min)
        start, end = clock(evening.from_min)[0], clock(evening.to_min)[0]
        said.append(
            "somebody on the evening before, under people: "
            f'{{from: "{start}", to: "{end}", the_day_before: yes}}'
        )
    return "; and ".join(said)


def _slow(menu: Menu, plan: DayPlan) -> Iterator[Finding]:
    worst: dict[str, tuple[Cooled, Load]] = {}
    for load in plan.loads:
        slow, known = cooled_slowly(menu, load), worst.get(load.batch.id)
        if slow is not None and (known is None or slow.over_min > known[0].over_min):
            worst[load.batch.id] = slow, load
    for slow, load in worst.values():
        rule = slow.rule
        start = "" if rule.from_c is None else f"from {rule.from_c:g} "
        yield finding(
            "PLAN02",
            load.batch.span,
            f"'{load.batch.id}' × {load.figure.factor:g} takes {slow.minutes:.0f} min {start}"
            f"to {rule.to_c:g} °C; {slow.minutes - slow.over_min:.0f} min are allowed: "
            f"{slow.over_min:.0f} min too long",
            "make smaller loads, cool it in ice water, or in something that takes out more heat",
            subject=(load.batch.id,),
        )
