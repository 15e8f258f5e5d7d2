"""An overfull serving, or a line over the rim, goes in; the changes of one amount in its file that
fix it without bringing another finding come out."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from itertools import islice
from typing import Any

from buildsheets.cup.cup import Cup
from buildsheets.cup.errors import FigureError
from buildsheets.cup.fit import Most, most_that_fits
from buildsheets.cup.holdback import round_down
from buildsheets.cup.items import Liquid
from buildsheets.cup.scan import figure
from buildsheets.cup.serving import Serving
from buildsheets.cup.steps import cup_of, marks_of
from buildsheets.findings.finding import Fix, Span
from buildsheets.menu.model import AddStep, Amount, CupSize, Drink, LineTo, Menu, Written
from buildsheets.rules.amounts import times, what
from buildsheets.rules.registry import RULES

MOST_OFFERED = 4
"""More choices than that are no help on a Sunday night."""

OVERFULL = "FIT01"
PASSED = "FIT02"
OFFERS = (OVERFULL, "FIT05")
"""Rules that look here which of their fixes work."""

OF_LITTLE = (OVERFULL, "FIT13")
"""What a little of a part trips and more of it does not."""

OTHER_SECTIONS = (
    "stations",
    "cups",
    "ingredients",
    "batches",
    "components",
    "add_ons",
    "swaps",
    "days",
)


def fixes_of(menu: Menu, serving: Serving) -> tuple[Fix, ...]:
    """Amounts that work, one change each, in the unit and at the place they were written in.

    Each is the most, in steps of its tool, that brings no other finding about the drink.
    """
    amounts = most_that_fits(serving.choices.fit(serving.choice))
    fixes = (fix for most in amounts if (fix := _fix(menu, serving, most)))
    return tuple(islice(fixes, MOST_OFFERED))


def _fix(menu: Menu, serving: Serving, most: Most) -> Fix | None:
    step = most.step.step
    assert isinstance(step, AddStep)
    amount = step.amounts[serving.cup.id]
    lined, place = isinstance(amount, LineTo), amount.written.span
    marks = serving.cup.volumes if lined else marks_of(step.tool, serving.cup)
    cups = _written_at(place, serving.drink, step)
    allowed = set(_faults(menu, serving.drink, cups))
    # A line that this part alone brings the drink over is mended with it.
    here = (serving.drink.id, serving.cup.id)
    mended = {one for one in allowed if one[0] in (OVERFULL, PASSED) and one[1:3] == here}
    allowed -= mended

    def tried(steps: int, but: Collection[str] = OF_LITTLE) -> Fix | None:
        share = _share(amount, serving.final.cup, most, steps * most.tool_step)
        text = times(amount.written.text, share, marks)
        if text is None:
            return None
        words, exact = text
        drink = _changed(serving.drink, step, place, words, exact)
        if any(fault not in allowed for fault in _faults(menu, drink, cups, but)):
            return None
        verb = "pour only to" if lined else "take"
        return Fix(f"{what(step)}: {verb} {words} (was {amount.written.text})", place, words)

    low = max(1, math.ceil(most.least / most.tool_step - 1e-9))
    high = round(most.most / most.tool_step)
    if any(code == PASSED for code, *_ in mended):  # the least may be over the line as well
        return next(filter(None, (tried(steps, (OVERFULL,)) for steps in range(high, 0, -1))), None)
    best = high
    if not tried(high):
        best = low if low < high and tried(low) else 0
        while best and high - best > 1:
            middle = (best + high) // 2
            best, high = (middle, high) if tried(middle) else (best, middle)
    return tried(best, (OVERFULL,)) if best else None


def fix_of_line(menu: Menu, drink: Drink, size: CupSize, step: AddStep) -> tuple[Fix, ...]:
    """The highest line that works in the place of one over the rim, if any, as finely as lines are
    read."""
    drink = drink.in_cup(size)  # hot and iced drinks have other steps in other cups
    amount, cup, marks = step.amounts[size.id], cup_of(size.shape), size.volumes
    assert isinstance(amount, LineTo)
    place = amount.written.span
    cups = _written_at(place, drink, step)
    top = cup.working_ml(headspace_mm=size.headspace_mm, headspace_ml=size.headspace_ml)
    written, line_step = amount.line_ml or 0.0, marks.step_ml
    if amount.line_mm is not None:
        top, written, line_step = cup.height_mm(top), amount.line_mm, 1.0
    for steps in range(int(top / line_step), 0, -1):
        text = times(amount.written.text, steps * line_step / written, marks)
        if text is None:
            break
        faults = _faults(menu, _changed(drink, step, place, *text), cups, ())
        if not any(str(code).startswith("FIT") for code, *_ in faults):
            message = f"{what(step)}: pour only to {text[0]} (was {amount.written.text})"
            return (Fix(message, place, text[0]),)
    return ()


def _share(written: Amount | LineTo, cup: Cup, most: Most, amount: float) -> float:
    """``amount`` as a share of what is written, which may lie between steps of its tool; a line in
    mm to whole mm."""
    step, share = most.step, amount / most.whole
    if isinstance(written, LineTo):
        if written.line_mm is not None:
            return round_down(cup.height_mm(amount), 1.0) / written.line_mm
        return share * (step.line_ml or 0.0) / (written.line_ml or 1.0)
    asked = written.volume_ml if isinstance(step.item, Liquid) else written.mass_g
    swapped = isinstance(step.step, AddStep) and step.step.swap is not None
    return share if swapped else share * step.amount / asked


def makes_nothing_worse(
    menu: Menu, serving: Serving, step: AddStep, text: tuple[str, float]
) -> bool:
    """Whether a step's amount may be written so, and a share of what it was, without a fault that
    was not there."""
    place = step.amounts[serving.cup.id].written.span
    cups = _written_at(place, serving.drink, step)
    drink = _changed(serving.drink, step, place, *text)
    before = set(_faults(menu, serving.drink, cups, OFFERS))
    return all(fault in before for fault in _faults(menu, drink, cups, OFFERS))


def _written_at(place: Span, drink: Drink, step: AddStep) -> list[CupSize]:
    """The cups whose amount is written at a place: one text may be that of several, and a change of
    it changes them all."""
    return [cup for cup in drink.cups if step.amounts[cup.id].written.span == place]


def _changed(drink: Drink, step: AddStep, place: Span, words: str, share: float) -> Drink:
    """The drink with a step's amount, written at ``place``, changed."""
    amounts = {
        cup: _times(old, share, Written(words, place)) if old.written.span == place else old
        for cup, old in step.amounts.items()
    }
    changed = replace(step, amounts=amounts)
    return replace(drink, steps=tuple(changed if one is step else one for one in drink.steps))


def _times(old: Amount | LineTo, share: float, written: Written) -> Amount | LineTo:
    def part(value: float | None) -> float | None:
        return None if value is None else value * share

    if isinstance(old, LineTo):
        return LineTo(part(old.line_ml), part(old.line_mm), written)
    return Amount(old.mass_g * share, old.volume_ml * share, part(old.count), written)


def _faults(
    menu: Menu, drink: Drink, cups: Sequence[CupSize], but: Collection[str] = (OVERFULL,)
) -> Iterator[tuple[object, ...]]:
    """What the rules, but for some, find in a drink's servings in some cups, by code, subject and
    place; and whether it is overfull.

    Only the drink stands in the menu they see, so that what hangs on no serving is left out.
    """
    others: Any = {section: {} for section in OTHER_SECTIONS}
    drink_alone = replace(menu, drinks={drink.id: drink}, **others)
    try:
        servings = [figure(drink, cup) for cup in cups]
    except FigureError:
        yield ("FIT08", drink.id)
        return
    for one in servings:
        if one.verdict == "too-much":
            yield (OVERFULL, drink.id, one.cup.id)
    for code, rule in RULES.items():
        if code not in but:
            for found in rule.check(drink_alone, servings):
                yield (code, *found.subject, found.span)
