"""An overfull serving goes in; the changes of one amount in its file that mend it without bringing
another finding come out."""

from __future__ import annotations

import math
from dataclasses import replace

from buildsheets.checks.registry import RULES
from buildsheets.checks.showing import times, what
from buildsheets.core.finding import Mend
from buildsheets.core.model import AddStep, Amount, Drink, LineTo, Menu, Written
from buildsheets.figures.build import Fitted, figure
from buildsheets.figures.errors import FigureError
from buildsheets.figures.mending import Most, most_that_fits
from buildsheets.figures.plan import Plan, round_down
from buildsheets.figures.serving import Serving

SHOWN = 4
"""More choices than that are no help on a Sunday night."""

OVERFULL = "FIT01"


def mends_of(menu: Menu, serving: Serving, the_plan: Plan, fitted: Fitted) -> tuple[Mend, ...]:
    """Amounts that work, one change each, in the unit and at the place they were written in.

    Each is the most, in steps of its tool, that brings no other finding about the drink.
    """
    before = _faults(menu, serving.drink)
    allowed = before - {(OVERFULL, serving.drink.id, serving.cup.id)}
    found: list[Mend] = []
    for most in most_that_fits(the_plan, fitted):
        mend = _mend(menu, serving, the_plan, most, allowed)
        if mend is not None:
            found.append(mend)
        if len(found) == SHOWN:
            break
    return tuple(found)


def _mend(
    menu: Menu, serving: Serving, the_plan: Plan, most: Most, allowed: set[tuple[object, ...]]
) -> Mend | None:
    def tried(steps: int) -> Mend | None:
        changed = _changed(serving, the_plan, most, steps * most.step)
        return changed[1] if changed and _faults(menu, changed[0]) <= allowed else None

    low, high = max(1, math.ceil(most.least / most.step - 1e-9)), round(most.most / most.step)
    best = tried(high)
    if best is not None or low >= high:
        return best
    best = tried(low)
    while best is not None and high - low > 1:
        middle = (low + high) // 2
        mend = tried(middle)
        if mend is None:
            high = middle
        else:
            low, best = middle, mend
    return best


def _changed(
    serving: Serving, the_plan: Plan, most: Most, amount: float
) -> tuple[Drink, Mend] | None:
    """The drink with one written amount changed, in every cup that amount is written for."""
    drink, step = serving.drink, most.op.step
    assert isinstance(step, AddStep)
    made = step.amounts[serving.cup.id]
    if isinstance(made, LineTo) and made.line_mm is not None:
        share = round_down(the_plan.cup.height_mm(amount), 1.0) / made.line_mm
    else:
        share = amount / most.whole
    text = times(made.written.text, share)
    if text is None:
        return None
    words, exact = text
    place = made.written.span
    amounts = {
        cup: _times(old, exact, Written(words, place)) if old.written.span == place else old
        for cup, old in step.amounts.items()
    }
    steps = list(drink.steps)
    steps[most.at] = replace(step, amounts=amounts)
    verb = "pour only to" if isinstance(made, LineTo) else "take"
    mend = Mend(f"{what(step)}: {verb} {words} (was {made.written.text})", place, words)
    return replace(drink, steps=tuple(steps)), mend


def _times(old: Amount | LineTo, share: float, written: Written) -> Amount | LineTo:
    def part(value: float | None) -> float | None:
        return None if value is None else value * share

    if isinstance(old, LineTo):
        return LineTo(part(old.line_ml), part(old.line_mm), written)
    return Amount(old.mass_g * share, old.volume_ml * share, part(old.count), written)


def _faults(menu: Menu, drink: Drink) -> set[tuple[object, ...]]:
    """What the rules find in the servings of one drink, by code, subject and place.

    Only the drink stands in the menu they see, so that what hangs on no serving is left out.
    """
    shelf = replace(
        menu,
        stations={},
        cups={},
        ingredients={},
        batches={},
        components={},
        add_ons={},
        drinks={drink.id: drink},
        days={},
    )
    try:
        servings = [figure(drink, size) for size in drink.cups]
    except FigureError:
        return {("FIT08", drink.id)}
    faults: set[tuple[object, ...]] = {
        (OVERFULL, drink.id, one.cup.id) for one in servings if one.verdict == "too-much"
    }
    for code, rule in RULES.items():
        if code != OVERFULL:
            faults |= {(code, *f.subject, f.span) for f in rule.check(shelf, servings)}
    return faults
