"""A drink, a cup and a choice go in; the whole build, fitted to the cup, comes out.

The policies of the counter live here: what scales, what is made up, which line is kept, and how
much base is held back so that a choice fits. The physics is in ``simulate`` and below.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from buildsheets.cup.contents import Contents, Levels, levels
from buildsheets.cup.cup import FIT_TOLERANCE_ML
from buildsheets.cup.fill import FillState
from buildsheets.cup.items import items_after
from buildsheets.cup.line import poured_to
from buildsheets.cup.plan import Op, Plan, plan, round_down, with_add_ons
from buildsheets.cup.serving import Choice, Serving, StepFigure, Used
from buildsheets.cup.simulate import After, simulate
from buildsheets.menu.model import AddStep, CupSize, Drink


class Fitted(NamedTuple):
    """A choice worked out in numbers: ``amounts`` per op and the vessels after each op.

    ``over_ml`` is how far the worst step stands over what is allowed, 0 or less if it fits.
    """

    ops: tuple[Op, ...]
    after: list[After]
    held_back_ml: float
    over_ml: float
    worst: int
    line_ml: float | None  # the body's line where it differs from the written one


def default_choice(drink: Drink) -> Choice:
    """The choice that is made when a guest says nothing."""
    return Choice(
        drink.sweetness.default if drink.sweetness else None,
        drink.ice.default if drink.ice else None,
    )


def figure(drink: Drink, size: CupSize, choice: Choice | None = None) -> Serving:
    """The build of a drink in a cup for a choice (default: the one nobody asked to change).

    The default choice is never held back: if it does not fit, the recipe is wrong. Raises
    ``FigureError`` for what the fill model refuses, such as a line over the rim.
    """
    fitter = Fitter(plan(drink, size))
    return fitter.serving(choice or default_choice(drink))


class Fitter:
    """Works out the choices of one drink in one cup, keeping what they share.

    The written recipe is the measure of every choice: shares are of its amounts, and what a policy
    keeps is what the recipe as written gives.
    """

    def __init__(self, the_plan: Plan) -> None:
        self.plan = the_plan
        self.default = default_choice(the_plan.drink)
        self._extended: dict[tuple[str, ...], Plan] = {}
        self._fixed: dict[tuple[float, float], float] = {}

    def fit(self, choice: Choice) -> Fitted:
        """Work out the amounts of a choice and hold base back where that makes it fit."""
        full = self._with(choice.add_ons)
        amounts, line = self._amounts(full, *shares(self.plan.drink, choice))
        after = simulate(full.ops, amounts)
        over, worst = excess(full, after)
        fitted = Fitted(full.ops, after, 0.0, over, worst, line)
        if over <= FIT_TOLERANCE_ML or choice == self.default:
            return fitted
        return _held_back(full, amounts, fitted)

    def serving(self, choice: Choice) -> Serving:
        """A choice worked out and wrapped for people: every step with its levels."""
        return serving(self.plan, choice, self.fit(choice))

    def _with(self, add_ons: tuple[str, ...]) -> Plan:
        known = self._extended.get(add_ons)
        if known is None:
            chosen = [a for key in add_ons for a in self.plan.drink.add_ons if a.id == key]
            known = self._extended[add_ons] = with_add_ons(self.plan, chosen)
        return known

    def _amounts(
        self, full: Plan, sweet: float, ice: float
    ) -> tuple[list[float | None], float | None]:
        """What each op adds before anything is held back, and the body's line if it is another.

        Add-ons do not change a body of a fixed amount: what they need is held back afterwards.
        """
        amounts = _scaled(full.ops, sweet, ice)
        if sweet == 1.0 and ice == 1.0:
            return amounts, None
        body = full.body
        if full.ops[body].line_ml is None:
            amounts[body] = self._fixed_body(sweet, ice)
            return amounts, None
        made_up, kept = self._made_up(sweet), self._keeps_line(ice)
        if made_up and kept:
            return amounts, None
        line: float | None = None
        if not made_up:
            # As much base as the recipe pours, and so less drink.
            poured = simulate(full.ops, _scaled(full.ops, 1.0, 1.0))[body].amount
            amounts[body], line = _to_line(full, _scaled(full.ops, sweet, 1.0), poured)
            if kept:
                before = simulate(full.ops[:body], amounts[:body])
                amounts[body] = poured_to(_last(before), line, full.ops[body].density)[0]
                return amounts, line
        else:
            amounts[body] = simulate(full.ops, _scaled(full.ops, sweet, 1.0))[body].amount
        amounts[body], line = _to_line(full, amounts, amounts[body] or 0.0)
        return amounts, line

    def _made_up(self, sweet: float) -> bool:
        sweetness = self.plan.drink.sweetness
        return sweet == 1.0 or (sweetness is not None and sweetness.with_less_sweet == "more_base")

    def _keeps_line(self, ice: float) -> bool:
        levels = self.plan.drink.ice
        return ice == 1.0 or (levels is not None and levels.with_less_ice == "same_line")

    def _fixed_body(self, sweet: float, ice: float) -> float:
        """A body of a fixed amount: it takes the place of missing sweetener, and of missing ice up
        to the line the drink has with all its ice; to the tool's step, on the safe side."""
        known = self._fixed.get((sweet, ice))
        if known is not None:
            return known
        ops, body = self.plan.ops, self.plan.body
        op = ops[body]
        amount = op.amount
        if sweet != 1.0 and self._made_up(sweet):
            missing = sum(
                o.amount - o.scaled(sweet)
                for o in ops
                if o.scales == "sweetness" and o.kind == "liquid"
            )
            amount = round_down(max(0.0, amount + missing), op.tool_step)
        if ice != 1.0 and self._keeps_line(ice):
            with_ice = _scaled(ops, sweet, 1.0)
            with_ice[body] = amount
            line = levels(simulate(ops, with_ice)[-1].cup).liquid
            amounts = _scaled(ops, sweet, ice)

            def over(tried: float) -> float:
                amounts[body] = tried
                return levels(simulate(ops, amounts)[-1].cup).liquid - line

            most = amount + self.plan.cup.brimful_ml  # more than any ice can have held up
            amount = round_down(largest_within(over, 0.0, most), op.tool_step)
        self._fixed[(sweet, ice)] = amount
        return amount


def shares(drink: Drink, choice: Choice) -> tuple[float, float]:
    """The shares of the written sweetener and of the written ice that a choice takes."""
    ice = drink.ice.levels[choice.ice] if drink.ice and choice.ice is not None else 1.0
    return (1.0 if choice.sweetness is None else choice.sweetness), ice


def largest_within(over: Callable[[float], float], low: float, high: float) -> float:
    """The largest amount from ``low`` to ``high`` that is not over: ``over`` rises with the amount
    and is 0 or less up to it. ``low`` itself if that is over.

    Regula falsi with the Illinois step (Dowell and Jarratt 1971): ``over`` is a line in pieces, so
    a few calls do.
    """
    at_low, at_high = over(low), over(high)
    if at_low >= 0.0 or at_high <= 0.0:
        return low if at_low >= 0.0 else high
    side = 0
    while high - low > 1e-9:
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        if not low < middle < high:
            middle = 0.5 * (low + high)
            if not low < middle < high:
                break
        found = over(middle)
        if found <= 0.0:
            if found > -1e-9:
                return middle
            low, at_low = middle, found
            at_high = 0.5 * at_high if side < 0 else at_high
            side = -1
        else:
            high, at_high = middle, found
            at_low = 0.5 * at_low if side > 0 else at_low
            side = 1
    return low


def _last(after: Sequence[After]) -> Contents:
    return after[-1].cup if after else Contents()


def _to_line(the_plan: Plan, amounts: Sequence[float | None], amount: float) -> tuple[float, float]:
    """(amount, line): the body poured to the printable line at or below what ``amount`` reaches."""
    body = the_plan.body
    op = the_plan.ops[body]
    before = _last(simulate(the_plan.ops[:body], amounts[:body]))
    line = round_down(levels(before.with_liquid(amount, op.density)).liquid, op.tool_step)
    return min(amount, poured_to(before, line, op.density)[0]), line


def _scaled(ops: Sequence[Op], sweet: float, ice: float) -> list[float | None]:
    scale = {"sweetness": sweet, "ice": ice}
    return [None if op.line_ml is not None else op.scaled(scale.get(op.scales, 1.0)) for op in ops]


def excess(the_plan: Plan, after: Sequence[After]) -> tuple[float, int]:
    """How far the worst step stands over what is allowed, and which step that is.

    A verdict that lets ice stand proud or be pressed is about the finished drink; before that
    the heap must only stay in the cup.
    """
    worst, at = float("-inf"), 0
    last, passing = len(after) - 1, limit_ml(the_plan, 0)
    requires = the_plan.requires
    seen: Contents | None = None
    for i, step in enumerate(after):
        if step.cup is seen and (i != last or requires == "fits"):
            continue
        seen = step.cup
        found = levels(step.cup)
        if i < last or requires == "fits":
            over = found.top - passing
        else:
            over = judged_ml(requires, step.cup, found) - the_plan.working_ml
        if over > worst:
            worst, at = over, i
    return worst, at


def limit_ml(the_plan: Plan, at: int) -> float:
    """What the reading after op ``at`` may be: working capacity, or brimful on the way to a verdict
    about the finished drink."""
    finished = at == len(the_plan.ops) - 1
    if finished or the_plan.requires == "fits":
        return the_plan.working_ml
    return the_plan.cup.brimful_ml


def judged_ml(requires: str, cup: Contents, found: Levels) -> float:
    """The reading of a finished drink that meets the working capacity: its top, its drink alone
    where ice may stand proud, or, where a flat lid presses ice under, its volume or its solids."""
    if requires == "fits":
        return found.top
    if requires == "lid_fits":
        return max(cup.sum_ml, cup.bed_ml + cup.ice_bulk_ml)
    return max(found.liquid, found.cap_top)


def _held_back(the_plan: Plan, amounts: list[float | None], too_much: Fitted) -> Fitted:
    """Leave out the least base that makes it fit, to the tool's step, on the safe side.

    A body poured to a line is lowered to a line that can be printed.
    """
    ops, body = the_plan.ops, the_plan.body
    op, planned = ops[body], too_much.after[body].amount
    tried = list(amounts)

    def with_body(amount: float) -> list[After]:
        tried[body] = amount
        return simulate(ops, tried)

    def over(amount: float) -> float:
        return excess(the_plan, with_body(amount))[0] - FIT_TOLERANCE_ML

    least = planned * max(0.0, 1.0 - the_plan.drink.hold_back_most_share)
    if over(least) > 0.0:
        return too_much
    amount = largest_within(over, least, planned)
    line = too_much.line_ml
    if op.line_ml is not None:
        amount, line = _to_line(the_plan, amounts, amount)
    else:
        amount = round_down(amount, op.tool_step)
    if amount < least - FIT_TOLERANCE_ML:
        return too_much
    after = with_body(amount)
    return Fitted(ops, after, planned - amount, *excess(the_plan, after), line)


def verdict_of(the_plan: Plan, fitted: Fitted) -> str:
    """ "fits", "lid-pressed" (a flat lid presses the ice under) or "too-much"."""
    if fitted.over_ml > FIT_TOLERANCE_ML:
        return "too-much"
    if the_plan.requires != "lid_fits":
        return "fits"
    top = levels(fitted.after[-1].cup).top
    return "fits" if top <= the_plan.working_ml + FIT_TOLERANCE_ML else "lid-pressed"


def serving(the_plan: Plan, choice: Choice, fitted: Fitted) -> Serving:
    """What was worked out, wrapped for people: every step with its levels."""
    figures: list[StepFigure] = []
    items = items_after(fitted.ops, fitted.after)
    sweet, ice = shares(the_plan.drink, choice)
    scale = {"sweetness": sweet, "ice": ice}
    last = len(fitted.after) - 1
    for i, (op, after) in enumerate(zip(fitted.ops, fitted.after, strict=True)):
        state = FillState(
            the_plan.cup, items[i], the_plan.working_ml, after.cup, levels(after.cup), i == last
        )
        figures.append(
            StepFigure(
                number=i + 1,
                step=op.step,
                add_on=op.add_on,
                used=_used(op, after, fitted, the_plan, scale.get(op.scales, 1.0)),
                state=state,
                shaker_ml=after.shaker.liquid_ml,
                chilled=after.chilled,
            )
        )
    final = figures[-1].state
    assert final is not None
    return Serving(
        drink=the_plan.drink,
        cup=the_plan.size,
        choice=choice,
        steps=tuple(figures),
        final=final,
        working_ml=the_plan.working_ml,
        held_back_ml=fitted.held_back_ml,
        verdict=verdict_of(the_plan, fitted),
        over_ml=max(0.0, fitted.over_ml),
        worst_step=fitted.worst + 1,
    )


def _used(op: Op, after: After, fitted: Fitted, the_plan: Plan, share: float) -> Used | None:
    if not isinstance(op.step, AddStep):
        return None
    amount = after.amount
    mass = amount * op.density if op.kind == "liquid" else amount
    if op.kind == "liquid":
        volume = amount
    elif op.kind == "bed":
        volume = amount / op.extra
    elif op.kind == "ice":
        volume = amount / op.density / op.extra
    else:
        volume = amount / op.density * (1.0 + op.extra / 100.0)
    line = op.line_ml
    line_mm = op.line_mm
    if op.body and fitted.line_ml is not None:
        line, line_mm = fitted.line_ml, None
    if line is not None and line_mm is None:
        line_mm = the_plan.cup.height_mm(min(line, the_plan.cup.brimful_ml))
    return Used(
        component=op.step.component,
        mass_g=mass,
        volume_ml=volume,
        count=amount / op.count_unit if op.count_unit and line is None else None,
        written_g=op.amount * share * (op.density if op.kind == "liquid" else 1.0),
        to_line_ml=line,
        to_line_mm=line_mm,
        already_over_ml=after.already_over_ml,
    )
