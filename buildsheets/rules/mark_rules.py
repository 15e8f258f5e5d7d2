"""Rules of marks: a menu and its servings in, findings out where a jug, a line or a pitcher shows
no mark for what is written or steamed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from buildsheets.cup.items import Liquid
from buildsheets.cup.serving import Serving
from buildsheets.cup.steps import BuildStep, marks_of
from buildsheets.findings.finding import Finding, Fix, Label, Severity
from buildsheets.menu.model import AddStep, Amount, CupSize, LineTo, Menu, Tool
from buildsheets.menu.volumes import FLUID_OUNCES, VolumeUnit
from buildsheets.rules.amounts import in_ounces_or_spoons, number, place, what
from buildsheets.rules.registry import all_servings, each_way, found, rule

LEAST_ML = 5.0
"""Marks closer than that are on no pitcher; common practice, no source."""


@rule("FIT14", "made-as-another-amount", Severity.NOTE, all_servings)
def made_as_another_amount(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
    """An amount or a line written in fluid ounces or spoons must be one that marks show.

    The nearest one is made: a jug shows no more than its steps, and a line is read to a quarter of
    a fluid ounce. What is made is what is figured and printed, so the card is right; it is not what
    the menu says. What is further off than the shop allows is warned of as a tool too coarse. What
    is written in ml or g is turned into ounces on purpose, and not spoken of.

    At the counter: the recipe says 1.6 fl oz, the card 1½; whoever wrote it looks for the missing
    drop in the syrup.

    Trips it: 1.6 fl oz with a jug of 1/4 fl oz, or 1/3 cup.
    Fixed: 1 1/2 fl oz or 1 3/4 fl oz, or a jug with finer marks.

    Source: common practice, no source.
    """
    known, most = set(), menu.shop.round_error_warn_share
    for serving in servings if menu.shop.measures in FLUID_OUNCES else ():
        for one in serving.build.plus(serving.offered).steps:
            step = one.step
            if not isinstance(step, AddStep):
                continue
            amount = step.amounts[serving.cup.id]
            span, text = amount.written.span, amount.written.text
            if span in known or not in_ounces_or_spoons(text):
                continue
            marks, asked, made, least = _in_marks(one, step.tool, serving.cup, amount)
            off, warned = abs(made - asked), isinstance(amount, Amount) and one.add_on is None
            if off <= marks.least or (warned and off > most * asked):
                continue
            known.add(span)
            lined, unit = isinstance(amount, LineTo), marks.name
            does = "is poured to" if lined else "is made as"
            tool = None if lined else step.tool
            shows = f"{tool.id} shows steps of" if tool else "it is read to"
            write = f"{number(made)} {unit}"
            other = number(made + math.copysign(least, asked - made))
            yield found(
                span,
                f"{place(serving)}: {text} of {what(step)} {does} {write}: {shows} "
                f"{number(least)} {unit}",
                f"cards say {write}; or write {other} {unit}"
                + (f", or take a {tool.kind} with finer marks" if tool else ""),
                labels=(Label(tool.span, "the tool"),) if tool else (),
                fixes=(Fix(f"write {write}", span, write),),
                subject=(one.add_on.id,) if one.add_on else (serving.drink.id, serving.cup.id),
            )


def _in_marks(
    one: BuildStep, tool: Tool | None, size: CupSize, amount: Amount | LineTo
) -> tuple[VolumeUnit, float, float, float]:
    """The unit of the marks, and in it what is written, what is made of it and the least step."""
    if isinstance(amount, LineTo):
        unit = size.volumes
        asked = amount.line_ml or 0.0
        made, least = (one.line_ml or 0.0 if unit.in_fractions else asked), unit.step_ml
    else:
        unit, asked = marks_of(tool, size), amount.volume_ml
        share = 1.0 if isinstance(one.item, Liquid) else asked / amount.mass_g
        made, least = one.amount * share, one.tool_step * share
    return unit, asked / unit.ml, made / unit.ml, least / unit.ml


@rule("STM02", "no-mark-to-steam-to", Severity.NOTE, each_way)
def no_mark_to_steam_to(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """Steamed milk should come to a mark of its pitcher, above the one it is poured to cold.

    The card tells how far it grows as a mark of the pitcher, rounded down. Where the next mark is
    higher than the milk comes, the card names none, and says by how much it grows alone.

    At the counter: "steam to 140 °F, 20 % more" and a pitcher whose marks are 2 fl oz apart; the
    new hire stops by guess, and the cup is half foam.

    Trips it: 8 fl oz steamed with 20 % of air, which come to 9.6 fl oz, and a pitcher with step:
    2 fl oz.
    Fixed: step: 1/2 fl oz, a pitcher marked more finely, which shows 9 1/2 fl oz.

    Source: common practice, no source.
    """
    volumes = menu.shop.volumes
    for figure in serving.steps:
        step, used = figure.step, figure.used
        if not isinstance(step, AddStep) or used is None or step.tool is None:
            continue
        steamed, tool = step.component.steamed, step.tool
        if steamed is None or tool.unit != "ml":
            continue
        cold_ml, grown_ml = used.volume_ml, used.volume_ml * (1.0 + steamed.air_share)
        finer_ml = tool.step
        while not tool.mark_above(cold_ml, grown_ml, volumes, finer_ml) and finer_ml > LEAST_ML:
            finer_ml /= 2.0
        mark_ml = tool.mark_above(cold_ml, grown_ml, volumes, finer_ml)
        if finer_ml == tool.step or not mark_ml:
            continue
        marks = tool.marks
        yield found(
            step.amounts[serving.cup.id].written.span,
            f"{place(serving)}: {marks.text(cold_ml)} of {what(step)} grow to "
            f"{marks.text(grown_ml)} when steamed, and {tool.id} has no mark between them, as its "
            f"steps are {marks.text(tool.step)}: the card names none to steam to",
            f"take a pitcher with marks of {number(finer_ml / marks.ml)} {marks.name}, which shows "
            f"{number(mark_ml / marks.ml)} {marks.name}, and write that as its step",
            labels=(Label(tool.span, "its pitcher"),),
        )
