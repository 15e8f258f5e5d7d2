"""Rules of what guests choose: whether it fits, is one drink still, and can be measured."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import islice

from buildsheets.cup.holdback import round_near
from buildsheets.cup.scan import Outcome
from buildsheets.cup.serving import Choice, Serving
from buildsheets.cup.steps import BuildStep
from buildsheets.findings.finding import Finding, Severity, SumLine
from buildsheets.findings.spelling import count_of, listed
from buildsheets.menu.model import AddStep, Menu, Tool, Written
from buildsheets.rules.amounts import choice_words, percent, place, times, volume, what
from buildsheets.rules.registry import all_ways, each_serving, each_way, found, rule
from buildsheets.rules.tool_steps import can_be_made, near_levels, rounded_far, whole_steps


@rule("FIT03", "options-do-not-fit", Severity.WARNING, each_serving)
def options_do_not_fit(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """Every combination a guest may order should fit, with base held back where that helps.

    Works out each sweetness x ice x add-ons of each drink in each cup. As much base is left out as
    it takes, up to hold_back_at_most, with room for what the tools of the shop stray (at most
    warn_overflow of cups pass the fill limit). What passes a line before anything is poured to it
    does not fit either. What does not fit even so is not offered on the card; this says which it
    is, and with which sum, so that the owner can decide.

    At the counter: a guest asks for pearls and a cap; the till says yes, the cup says no.

    Trips it: add-ons that need more than hold_back_at_most of the base to be left out.
    Fixed: a smaller add-on for that cup, or a larger share that may be held back.

    Source: fill model sections 2 and 3; the limit is the shop's own.
    """
    outcomes, bad = serving.choices.outcomes, serving.choices.too_much
    if not bad or serving.verdict == "too-much":
        return
    unit = serving.cup.volumes
    least = min(bad, key=lambda o: (len(o.choice.add_ons + o.choice.swaps), o.over_ml))
    do = "does" if len(bad) == 1 else "do"
    yield found(
        serving.drink.span,
        f"{place(serving)}: {len(bad)} of {len(outcomes)} combinations {do} not fit; "
        f"the first: {choice_words(least.choice)}, over by {volume(least.over_ml, unit)}",
        f"the add-on card will say that these do not fit; {_mend(serving, least.choice)}",
        sums=(
            *_too_much_sum(serving, least.choice),
            *(
                SumLine(choice_words(one.choice), "", unit.text(one.over_ml, 1), "over")
                for one in _worst_by_add_ons(bad)
                if one.choice != least.choice
            ),
        ),
    )


def _mend(serving: Serving, choice: Choice) -> str:
    """What would let a choice fit that does not."""
    choices = serving.choices
    ways = ["make it smaller for this cup"]
    if choices.passed_ml(choice) > 0.0:
        plain = not (choice.add_ons or choice.swaps)
        return "raise the line, or add less before it" if plain else ways[0]
    if choices.over_at_least(choice) < choices.fit(choice).over_ml - 1.0:
        ways.append("let more of the base be left out (hold_back_at_most)")
    else:
        ways.append("take less ice (less base is no help)")
    if choices.fit(choice).hands_ml > 0.0:
        ways.append(f"take a finer tool for {choices.spread(choice).largest}")
    return listed(ways)


def _too_much_sum(serving: Serving, choice: Choice) -> Iterator[SumLine]:
    """What a choice would reach with nothing left out, what may be filled and be left out."""
    fit, drink, unit = serving.choices.fit(choice), serving.drink, serving.cup.volumes
    passed = unit.shown(serving.choices.passed_ml(choice))
    if passed > 0.0:
        over_line = "over the line before it pours"
        yield SumLine(choice_words(choice), "", unit.said(passed), over_line)
        return
    limit, hands = unit.shown(fit.limit_ml), unit.shown(fit.hands_ml)
    over, even_so = unit.shown(fit.over_ml), unit.shown(serving.choices.over_at_least(choice))
    reached = unit.said(unit.tidy(limit + over - hands))
    yield SumLine(choice_words(choice), "", reached, "nothing left out")
    if hands > 0.0:
        allowed = percent(drink.overflow_most_share)
        yield SumLine("room for hands", "", unit.said(hands), f"at most {allowed} of cups spill")
    yield SumLine("may be filled", "", unit.said(limit))
    yield SumLine("over by", "", unit.said(over))
    share, base = drink.hold_back_most_share, what(serving.body.step)
    most = unit.text(share * fit.after[fit.build.body].amount, 1)
    yield SumLine("may be left out", percent(share), most, f"of {base}")
    yield SumLine("over by even so", "", unit.said(even_so))


def _worst_by_add_ons(outcomes: Sequence[Outcome]) -> list[Outcome]:
    """One outcome for each set of add-ons and swaps: the one that is furthest over."""
    worst: dict[tuple[tuple[str, ...], ...], Outcome] = {}
    for outcome in outcomes:
        chosen = outcome.choice.swaps, outcome.choice.add_ons
        known = worst.setdefault(chosen, outcome)
        if outcome.over_ml > known.over_ml:
            worst[chosen] = outcome
    return list(worst.values())


@rule("FIT07", "sweetness-between-steps", Severity.WARNING, each_way)
def sweetness_between_steps(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """A sweetness level should not vanish in the tool's step.

    A level whose sweetener rounds down to nothing tastes like no sweetener at all.

    At the counter: "25 %" and "0 %" are the same drink, and the guest notices.

    Trips it: 25 % of one pump with a pump that is never pressed by less than half.
    Fixed: a finer pump, or levels of 0, 50 and 100 %.

    Source: common practice, no source.
    """
    levels = serving.drink.sweetness.levels if serving.drink.sweetness else ()
    for step in serving.build.steps:
        if step.scales != "sweetness" or not isinstance(step.step, AddStep) or step.amount <= 0.0:
            continue
        lost = [level for level in levels if level > 0.0 and step.scaled(level) <= 0.0]
        if lost:
            written, tool, steps = _written(serving, step), _tool_of(step), whole_steps(step)
            finer = (n for n in FINER if all(round_near(n * level * steps, 1.0) for level in lost))
            mends = _finer_tool(tool.id, finer) if tool else []
            yield found(
                written.span,
                f"{place(serving)}: {percent(lost[0])} of {written.text} of "
                f"{step.step.component.id} is less than the smallest step of its tool",
                ", or ".join([*mends, "write sweetness: fixed at the drink"]),
            )


@rule("FIT09", "one-figure-thins-a-choice", Severity.WARNING, each_serving)
def one_figure_thins_a_choice(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """What add-ons take from the base must not be too much for any ice or sweetness.

    It is one figure for all of them, so that a card can say one line: the most that any needs.
    Where another choice needs less, and the figure takes more of its base than the shop lets be
    left out (hold_back_at_most), this says so. A drink with room_by_ice: yes has a figure for each
    ice level.

    At the counter: the card says 50 ml lower with foam, which the drink without ice does not need;
    it is thin, and nobody knows why.

    Trips it: ice that rests on the floor, where a line 50 ml lower pours 20 ml less; without the
    ice it pours 50 ml less of as much base.
    Fixed: room_by_ice: yes at the drink, or a smaller add-on for this cup.

    Source: common practice, no source.
    """
    thin = [one for one in serving.choices.outcomes if one.thin]
    if not thin or serving.verdict == "too-much":
        return
    drink, choices = serving.drink, serving.choices
    lost, worst = max(((_share_lost(serving, one), one) for one in thin), key=lambda pair: pair[0])
    needs = choices.needs(worst.choice)
    base, most = what(serving.body.step), percent(drink.hold_back_most_share)
    lined = serving.build.steps[serving.build.body].line_ml is not None
    unit = serving.cup.volumes
    taken = volume(worst.taken, unit)
    takes = f"the line of {base} is {taken} lower" if lined else f"{taken} less {base} goes in"
    chosen = " + ".join((*worst.choice.swaps, *worst.choice.add_ons))
    others = choice_words(replace(worst.choice, add_ons=(), swaps=()))
    mend = "make the add-on smaller for this cup"
    if not drink.room_by_ice and max(needs.values()) > needs[worst.choice.ice]:
        mend = f"write room_by_ice: yes at the drink, or {mend}"
    yield found(
        drink.span,
        f"{place(serving)}: with {chosen} {takes}, which leaves out {percent(lost)} of it at "
        f"{others}; at most {most} may be left out",
        mend,
        sums=(
            *(
                SumLine(f"ice {ice}" if ice else "any choice", "", unit.text(need), "needed there")
                for ice, need in needs.items()
            ),
            SumLine("taken of each", "", unit.text(worst.taken), "the most that is needed"),
        ),
    )


def _share_lost(serving: Serving, outcome: Outcome) -> float:
    """The share of its base that is left out of a choice."""
    fit = serving.choices.fit(outcome.choice)
    left = fit.after[fit.build.body].amount
    return fit.held_back_ml / (fit.held_back_ml + left)


@rule("FIT10", "sweetness-rounded-far", Severity.WARNING, all_ways)
def sweetness_rounded_far(menu: Menu, servings: Iterable[Serving]) -> Iterator[Finding]:
    """A tool must be able to make each sweetness level of the amount it measures.

    Compares the written amount times the level with the nearest step of its tool, the lower of two
    as near; warns beyond the share the shop allows (warn_rounding), once for an amount of a tool.

    At the counter: "25 %" of 6 pumps is 1 pump, which is 17 %; the guest who asked for a little
    gets nearly nothing.

    Trips it: 6 pumps and levels of 25 and 75 %.
    Fixed: 4 or 8 pumps, or a pump that is pressed by halves.

    Source: common practice, no source.
    """
    most = menu.shop.round_error_warn_share
    groups: dict[tuple[str, int, tuple[float, ...]], list[tuple[Serving, BuildStep]]] = {}
    amounts: dict[tuple[float, ...], set[int]] = {}  # in steps of their tools, by their levels
    for serving in servings:
        levels = serving.drink.sweetness.levels if serving.drink.sweetness else ()
        for step in serving.build.steps:
            tool, steps = _tool_of(step), whole_steps(step)
            if tool and step.scales == "sweetness":
                amounts.setdefault(levels, set()).add(steps)
                if rounded_far(steps, levels, most):
                    groups.setdefault((tool.id, steps, levels), []).append((serving, step))
    for (tool_id, steps, levels), places in groups.items():
        serving, step = places[0]
        written = _written(serving, step)
        can = [
            _words(written, other, steps)
            for other in can_be_made(steps - 1, steps + 1, levels, most)
            if steps <= 2 * other <= 3 * steps  # more or less would be another drink
        ]
        mends = [f"write {listed(can)}"] if can else []
        finer = (part for part in FINER if not rounded_far(part * steps, levels, most))
        mends += _finer_tool(tool_id, finer)
        near = near_levels(steps, levels, most)
        if near and not any(rounded_far(each, near, most) for each in amounts[levels]):
            shares = ", ".join(f"{100 * level:.0f} %" for level in near)
            mends.append(f"write levels: [{shares}]")
        far = listed(
            (
                f"{percent(level)} becomes {_words(written, made, steps)} ({percent(made / steps)})"
                for level in rounded_far(steps, levels, most)
                for made in [round_near(level * steps, 1.0)]
            ),
            "and",
        )
        drinks = len({one.drink.id for one, _ in places})
        yield found(
            written.span,
            f"{written.text} by {tool_id} cannot be made at every sweetness: "
            f"{far}, in {count_of(drinks, 'drink')}",
            ", or ".join(mends) or "change the levels",
            sums=tuple(
                SumLine(place(one), _written(one, at).text, "", at.name, _written(one, at).span)
                for one, at in places
            ),
            subject=(tool_id,),
        )


FINER = {2: "half", 3: "a third of", 4: "a quarter of", 5: "a fifth of", 10: "a tenth of"}
"""How much finer a tool may have to be, and how that is said."""


def _finer_tool(tool_id: str, parts: Iterable[int]) -> list[str]:
    """What to take in place of a tool, by the first of these parts of its step; [] for none."""
    return [f"take a tool with {FINER[part]} the step of {tool_id}" for part in islice(parts, 1)]


def _words(written: Written, steps: float, of_all: int) -> str:
    """So many steps of a written amount, in its own unit."""
    found = times(written.text, steps / of_all)
    return found[0] if found else f"{percent(steps / of_all)} of it"


def _tool_of(step: BuildStep) -> Tool | None:
    return step.step.tool if isinstance(step.step, AddStep) else None


def _written(serving: Serving, step: BuildStep) -> Written:
    assert isinstance(step.step, AddStep)
    return step.step.amounts[serving.cup.id].written


MINOR_SHARE, GROWS_MOST = 1 / 3, 2.0
"""A base of less than this share of the drink flavours it, and more than twice of it makes another
drink; a drink poured up with its main base stays what it is. Common practice, no source."""


@rule("FIT13", "part-more-than-doubled", Severity.WARNING, each_serving)
def part_more_than_doubled(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """What ice or syrup leaves out should not be made up with much more of a minor part.

    One base makes room: it fills up for missing ice and syrup. Where it is less than a third of
    the drink and more than twice of it goes in for some order, this names the order that takes
    most. Tea poured to its line may double: the drink is tea as before.

    At the counter: a blended drink with no ice gets four times the yogurt; it tastes of nothing
    else, and costs so much more.

    Trips it: 60 ml of milk over 2 scoops of blended ice, with_less_ice: same_line.
    Fixed: ice: fixed at the drink, with_less_ice: same_amounts, or makes_room: yes at the part
    that is most of the drink.

    Source: common practice, no source.
    """
    body, choices = serving.body, serving.choices
    usual_ml = body.used.volume_ml if body.used else 0.0
    if not 0.0 < usual_ml < MINOR_SHARE * serving.final.liquid_ml:
        return
    plain = (one for one in choices.outcomes if not (one.choice.add_ons or one.choice.swaps))
    taken_ml = {
        one.choice: choices.fit(one.choice).after[choices.build.body].amount
        for one in plain
        if one.verdict != "too-much"
    }
    most = max(taken_ml, key=lambda choice: taken_ml[choice], default=serving.choice)
    if taken_ml.get(most, 0.0) <= GROWS_MOST * usual_ml:
        return
    assert isinstance(body.step, AddStep)
    unit = serving.cup.volumes
    yield found(
        body.step.amounts[serving.cup.id].written.span,
        f"{place(serving)}: with {choice_words(most)} {volume(taken_ml[most], unit)} of "
        f"{what(body.step)} go in, {taken_ml[most] / usual_ml:.1f} times the "
        f"{volume(usual_ml, unit)} of the usual order",
        f"write {listed(_cures(serving, taken_ml, usual_ml))}",
    )


def _cures(serving: Serving, taken_ml: Mapping[Choice, float], usual_ml: float) -> Iterator[str]:
    """What keeps a minor part small: an option that alone makes it grow so, or a part that may."""
    usual, most_ml = serving.choice, GROWS_MOST * usual_ml
    alone = False
    if all(ml <= most_ml for one, ml in taken_ml.items() if one.ice == usual.ice):
        yield "ice: fixed at the drink"
        yield "with_less_ice: same_amounts there"
        alone = True
    if all(ml <= most_ml for one, ml in taken_ml.items() if one.sweetness == usual.sweetness):
        yield "sweetness: fixed at the drink"
        alone = True
    if not alone:
        yield "ice: fixed and sweetness: fixed at the drink"
    more_ml = max(taken_ml.values()) - usual_ml
    enough_ml = min(MINOR_SHARE * serving.final.liquid_ml, more_ml)
    for used in serving.used:
        component = used.component
        if component.role != "base" or component.shot or component.id == what(serving.body.step):
            continue
        if used.volume_ml >= enough_ml:
            yield f"makes_room: yes at {component.id} in its place"
