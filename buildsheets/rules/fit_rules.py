"""Rules of the cup: does every drink fit, at each step, with each option, at the tools' spread?"""

from __future__ import annotations

import math
from collections.abc import Iterator

from buildsheets.cup.fit import Fit
from buildsheets.cup.holdback import round_up
from buildsheets.cup.serving import Serving, StepFigure
from buildsheets.cup.steps import marks_of
from buildsheets.findings.finding import Finding, Fix, Label, Severity, Span, SumLine
from buildsheets.menu.model import AddStep, Amount, DoStep, Menu
from buildsheets.menu.volumes import VolumeUnit
from buildsheets.rules.amounts import percent, place, times, volume, what
from buildsheets.rules.fixes import fixes_of, makes_nothing_worse
from buildsheets.rules.registry import each_serving, each_way, found, rule
from buildsheets.rules.tool_steps import can_be_made

NO_FIX = "no single amount fixes it: change several, or sell it in a larger cup"


@rule("FIT01", "cup-overfull", Severity.ERROR, each_serving)
def cup_overfull(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """A drink, in its usual order, must stay under the working capacity of its cup.

    Checks the highest of liquid, settled bed, ice and floated cap after every step against what
    may be filled: the cup to its rim less the headspace. The head of a fizzy liquid may rise to the
    rim while it is poured: the lid is not on yet, and the foam falls before it is. Under a dome
    whose inside was measured, foam that floats may stand over the rim, as much as the dome holds.

    At the counter: a cup that is too full spills when the lid goes on, and the barista learns to
    leave something out, each a different thing.

    Trips it: a 350 ml cup with 5 mm headspace, 250 ml of tea and a cap of 150 ml; or 330 ml of
    soda with a head of 15 %.
    Fixed: tea to the 185 ml line, or a cap of 85 ml; 290 ml of soda.

    Source: fill model sections 2 and 6; frustum and spherical segment, any geometry textbook. The
    head is the shop's own measurement.
    """
    if serving.verdict == "too-much":
        yield _overfull(menu, serving)


def _overfull(menu: Menu, serving: Serving) -> Finding:
    size, headspace = serving.cup, serving.cup.written("headspace")
    worst = serving.steps[serving.worst_step - 1]
    state = worst.state
    fit, unit = serving.choices.fit(serving.choice), size.volumes
    limit_ml, foam_ml = fit.limit_ml, fit.foam_ml
    limit, brimful = unit.shown(limit_ml), unit.shown(state.cup.brimful_ml)
    reached = unit.shown(limit_ml + serving.over_ml)
    too_much = max(unit.least, unit.tidy(reached - limit))  # an excess never shows as nothing
    sums = _sum_lines(serving, serving.worst_step)
    stands = unit.tidy(reached - unit.shown(state.sum_ml))
    if foam_ml:
        head = _head_line(worst, foam_ml, unit)
        stands = unit.tidy(stands - float(head.takes_up.removesuffix(unit.name)))
        sums.append(head)
    if stands > 0.0:
        afloat = "what floats" if state.contents.swims_bulk_ml else "ice"
        stands_out = f"{afloat} stands out of the drink"
        why = stands_out if state.contents.afloat_ml else "the bed stands dry"
        sums.append(SumLine(f"above that, {why}", "", unit.said(stands), "its gaps count too"))
    elif stands < 0.0:
        sums.append(SumLine("less what stands proud", "", unit.said(stands), "the ice's own top"))
    sums.append(SumLine("reaches", "", unit.said(reached), f"after step {worst.number}"))
    to_rim = f"{unit.said(brimful)} to the rim"
    because = f"{to_rim}, less headspace" if limit < brimful else to_rim
    if fit.in_dome and not foam_ml:
        headspace = size.written("dome")
        because = f"{to_rim}, and {unit.said(unit.tidy(limit - brimful))} in the dome"
    filled = unit.said(limit)
    if foam_ml:
        sums.append(SumLine("may be filled", "", filled, "to the rim, before the lid goes on"))
    else:
        sums.append(SumLine("may be filled", headspace.text, filled, because, headspace.span))
    sums.append(SumLine("too much by", "", unit.said(too_much)))
    fixes = fixes_of(menu, serving)
    hint = "or sell it in a larger cup" if fixes else NO_FIX
    if foam_ml:
        message = (
            f"while {what(worst.step)} is poured (step {worst.number}) its foam "
            f"reaches {unit.said(reached)}, and the cup holds {filled} to the rim: "
            f"{unit.said(too_much)} too much, it runs over"
        )
        hint += "; or measure its head anew, poured more slowly"
    else:
        message = (
            f"the build reaches {unit.said(reached)} after step "
            f"{worst.number} ({what(worst.step)}), and {filled} may be filled: "
            f"{unit.said(too_much)} too much, {_passes(unit.tidy(reached - brimful), fit, unit)}"
        )
    return found(
        _span(serving, worst.number),
        f"{place(serving)}: {message}",
        hint,
        labels=(Label(size.shape_written.span, f"the cup: {size.shape_written.text}"),),
        sums=tuple(sums),
        fixes=fixes,
    )


def _head_line(figure: StepFigure, foam_ml: float, unit: VolumeUnit) -> SumLine:
    """What the foam of a fizzy liquid is that reads so much while it is poured."""
    step, used = figure.step, figure.used
    assert isinstance(step, AddStep)
    assert used is not None
    head, share = step.component.written("head"), step.component.head_share
    why, takes_ml = "over the drink", foam_ml - figure.state.fluid_top_ml
    if share is not None:
        why, takes_ml = f"of {volume(used.volume_ml, unit)} poured", share * used.volume_ml
    takes = unit.text(takes_ml, 1)
    return SumLine("its head, while it is poured", head.text, takes, why, head.span)


def _passes(over: float, fit: Fit, unit: VolumeUnit) -> str:
    """What a cup that is too full does: it passes the fill limit, or is ``over`` the rim as well;
    or what stands in its dome is pressed out."""
    if fit.in_dome:
        return "pressed out when the dome goes on"
    if over > 0.0:
        return f"{unit.said(over)} of it over the rim"
    return "under the rim, to spill when the lid goes on"


def _span(serving: Serving, number: int) -> Span:
    step = serving.steps[number - 1].step
    if isinstance(step, AddStep) and serving.cup.id in step.amounts:
        return step.amounts[serving.cup.id].written.span
    return step.span


def _sum_lines(serving: Serving, until: int) -> list[SumLine]:
    """What each step takes up of the cup, as true volumes, up to a step.

    In tenths of a ml that add up to the tenths of the whole, or in hundredths of an ounce.
    """
    sums: list[SumLine] = []
    before, unit = 0.0, serving.cup.volumes
    for figure in serving.steps[:until]:
        after = unit.shown(figure.state.sum_ml)
        taken, before = unit.tidy(after - before), after
        step = figure.step
        if not taken:
            continue
        if not isinstance(step, AddStep) or figure.used is None:
            melted = "melted ice and the shaken drink" if figure.chilled else "from the shaker"
            if isinstance(step, DoStep) and step.air_share is not None:
                melted = f"liquid, solid ice and {percent(step.air_share)} of air"
            sums.append(SumLine(what(step), "", unit.said(taken), melted, step.span))
            continue
        written, used = step.amounts[serving.cup.id].written, figure.used
        reason = {
            "settled": f"{used.mass_g:.0f} g; its gaps fill with drink",
            "ice": f"{used.mass_g:.0f} g of ice, as solid",
            "swimming": f"{used.mass_g:.0f} g, without gaps",
            "on-wall": f"{used.mass_g:.0f} g on the wall",
            "floated": f"{used.mass_g:.0f} g whipped by {step.component.overrun_pct:.0f} %",
        }.get(step.component.behaves, "")
        if (steamed := step.component.steamed) is not None:
            reason = f"cold; grows by {100 * steamed.air_share:.0f} % when steamed"
        if (shot := step.component.shot) is not None:
            reason = f"{shot.out_g:g} g of {step.component.density_g_ml:g} g/ml a shot"
        if used.to_line_ml is not None:
            reason = f"poured up to the {volume(used.to_line_ml, unit)} line"
        takes_up = unit.said(taken)
        sums.append(SumLine(step.component.id, written.text, takes_up, reason, written.span))
    return sums


@rule("FIT02", "line-passed", Severity.ERROR, each_way)
def line_passed(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """A line to pour to must be above what is in the cup already.

    At the counter: the card says "fill to 250 ml" and the drink stands at 262 before anything is
    poured; the barista pours anyway.

    Trips it: 200 ml of milk and 60 ml of syrup, then tea to the 250 ml line.
    Fixed: tea to the 300 ml line, or less milk.

    Source: fill model section 3.
    """
    for figure in serving.steps:
        step, used = figure.step, figure.used
        if used is None or used.already_over_ml <= 0.0 or used.to_line_ml is None:
            continue
        assert isinstance(step, AddStep)
        unit, reached = serving.cup.volumes, used.to_line_ml + used.already_over_ml
        yield found(
            step.amounts[serving.cup.id].written.span,
            f"{place(serving)}: {step.component.id} is poured to the "
            f"{volume(used.to_line_ml, unit)} line, and the drink stands at "
            f"{volume(reached, unit)} already",
            "raise the line, or add less before it",
            sums=tuple(_sum_lines(serving, figure.number)),
        )


@rule("FIT04", "likely-to-overflow", Severity.WARNING, each_serving)
def likely_to_overflow(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """At the tools' tolerances, few cups may pass the fill limit.

    Combines the spread of every tool and of the cup by root sum of squares and asks how many cups
    would pass; the shop says how many are too many (warn_overflow). It asks this of the
    usual order. Of every choice that stands higher, such as one with an add-on, so much base is
    left out that no more pass.

    A cup that passes the fill limit spills when its lid goes on; one that passes the rim runs over.

    At the counter: the recipe fits on paper, and every tenth cup runs over the lid.

    Trips it: a fill 5 ml under the limit with an ice scoop that strays by 20 g.
    Fixed: leave more headspace, or weigh the ice.

    Source: JCGM 100:2008, 5.1.2; fill model section 5.
    """
    most = menu.shop.overflow_warn_share
    if serving.verdict == "too-much":
        return
    spread = serving.choices.spread(serving.choice)
    share, rim_ml = spread.p_over or 0.0, serving.final.cup.brimful_ml
    if share <= most or spread.worst_fits:
        return
    fit, unit = serving.choices.fit(serving.choice), serving.cup.volumes
    dome_ml = fit.build.dome_ml if fit.in_dome else 0.0
    limit_ml, of_cups = serving.working_ml + dome_ml, f"about {percent(share)} of cups"
    less_ml = spread.nominal_ml + dome_ml + spread.room_ml(most) - limit_ml
    less = unit.text(round_up(less_ml, unit.step_ml))
    if fit.in_dome:
        told = f"the dome would press foam out of {of_cups} at your tools' tolerances"
        helps = f"{less} less foam, or less under it"
    else:
        told = (
            f"{of_cups} would pass the fill limit of {volume(limit_ml, unit)} at your tools' "
            f"tolerances and spill at the lid, {percent(spread.share_over(rim_ml))} the rim"
        )
        helps = f"{less} less in the cup: a lower line, or less of what goes in"
    yield found(
        serving.drink.span,
        f"{place(serving)}: {told}; at most {percent(most)} is wanted",
        f"{spread.largest} strays most: a finer tool there helps most; so does {helps}",
        sums=(
            SumLine("as written", "", unit.text(spread.nominal_ml + dome_ml, 1)),
            SumLine("typical spread (2u)", "", f"± {unit.text(spread.expanded_ml, 1)}"),
            SumLine("worst case", "", f"± {unit.text(spread.worst_ml, 1)}"),
            SumLine(
                "to the top of the dome" if dome_ml else "fill limit", "", unit.text(limit_ml, 1)
            ),
            SumLine("to the rim", "", unit.text(rim_ml, 1)),
        ),
    )


@rule("FIT05", "tool-too-coarse", Severity.WARNING, each_way)
def tool_too_coarse(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """An amount must be one the tool can measure, or the card prints another one.

    Compares the written amount with the nearest lower step of its tool; warns beyond the share
    the shop allows (warn_rounding).

    At the counter: the recipe says 12 g, the scoop gives 40; nobody makes the recipe.

    Trips it: 12 ml with a pump of 10 ml and a step of one pump.
    Fixed: 10 ml, or a pump that gives 6.

    Source: common practice, no source.
    """
    most, sweetness = menu.shop.round_error_warn_share, serving.drink.sweetness
    for build_step in serving.build.steps:
        step, amount, tool_step = build_step.step, build_step.amount, build_step.tool_step
        if not isinstance(step, AddStep) or amount <= 0.0 or tool_step <= 0.0:
            continue
        if isinstance(asked := step.amounts[serving.cup.id], Amount):  # not yet to the tool's step
            amount = asked.volume_ml if step.component.behaves == "liquid" else asked.mass_g
        off = abs(amount / tool_step - round(amount / tool_step)) * tool_step
        if off > most * amount:
            written, tool = asked.written, step.tool
            marks = marks_of(tool, serving.cup)
            levels = sweetness.levels if sweetness and build_step.scales == "sweetness" else ()
            lower = int(amount / tool_step)
            whose = step.swap.replaced.id if step.swap else step.component.id
            by_tool = f", in {step.component.id}," if step.swap else ""
            yield found(
                written.span,
                f"{place(serving)}: {written.text} of {whose}{by_tool} "
                f"lies between two steps of the {tool.id if tool else 'tool'}",
                labels=(Label(tool.span, "the tool"),) if tool else (),
                fixes=tuple(
                    Fix(f"write {text[0]}", written.span, text[0])
                    for steps in can_be_made(lower, lower + 1, levels, most)
                    if (text := times(written.text, steps * tool_step / amount, marks)) is not None
                    and makes_nothing_worse(menu, serving, step, text)
                )
                if step.swap is None
                else (),
            )


@rule("FIT06", "topping-may-not-settle", Severity.WARNING, each_way)
def topping_may_not_settle(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """A settled topping must be heavier than the drink, and go in before the ice.

    At the counter: pearls put in after the ice hang among the cubes, and the layer the card shows
    is not there; a topping lighter than the drink swims.

    Trips it: ice first, then pearls; or a jelly of 1.02 g/ml under a syrupy drink of 1.05.
    Fixed: the topping first, then the ice.

    Source: fill model section 2, warnings; Archimedes.
    """
    for warning in serving.final.warnings:
        if warning.code in ("ice_under_one_layer", "swimmer_may_sink"):
            continue
        if warning.code != "bed_may_float":
            text = f"{warning.value:.0f} g of topping go in after {warning.limit:.0f} g of ice"
            message = f"{place(serving)}: {text} and may lodge in it"
            yield found(serving.drink.span, message, "write it before the ice")
            continue
        settled = (one.component for one in serving.used if one.component.behaves == "settled")
        topping = min(settled, key=lambda one: one.density_g_ml)
        stays = math.ceil(100 * warning.value + 1e-6) / 100
        yield found(
            topping.written("density").span,
            f"{place(serving)}: its drink weighs {warning.value:.3f} g/ml, the topping "
            f"{warning.limit:.3f}: {topping.id} may not stay down",
            f"measure a piece again: from {stays:.2f} g/ml it stays down; if it swims, write "
            "behaves: swimming, or sell it in a lighter drink",
            labels=(Label(serving.drink.written("name").span, "the drink"),),
        )


@rule("FIT11", "pieces-may-sink", Severity.WARNING, each_way)
def pieces_may_sink(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """A topping that swims must be lighter than the drink, or than its upper liquid.

    At the counter: the card shows slices on top and the guest finds them at the bottom; the level
    is another one.

    Trips it: a slice of 1.02 g/ml that swims in tea of 1.00.
    Fixed: behaves: settled, or a sweeter drink.

    Source: Archimedes.
    """
    for warning in serving.final.warnings:
        if warning.code == "swimmer_may_sink":
            yield found(
                serving.drink.span,
                f"{place(serving)}: a topping of {warning.limit:.3f} g/ml swims in a drink of "
                f"{warning.value:.3f} g/ml: it may sink",
                "write behaves: settled, or make the drink heavier",
            )
