"""A drink, a cup and a choice go in; the whole build, fitted to the cup, comes out.

The policies of the counter live here: what scales, what is made up, which line is kept, and how
much base is held back so that a choice fits. The physics is in ``simulate`` and below.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from buildsheets.core.model import AddStep, CupSize, Drink
from buildsheets.figures.contents import Contents, Levels, levels
from buildsheets.figures.cup import FIT_TOLERANCE_ML
from buildsheets.figures.fill import FillState
from buildsheets.figures.items import items_after
from buildsheets.figures.line import poured_to
from buildsheets.figures.plan import Op, Plan, plan, round_down, with_add_ons
from buildsheets.figures.serving import Choice, Serving, StepFigure, Used
from buildsheets.figures.simulate import After, simulate

BISECTIONS = 48
"""Halvings that bring a cup's 2,000 ml to below 1e-11 ml."""


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
    """Works out the choices of one drink in one cup, keeping what they share."""

    def __init__(self, the_plan: Plan) -> None:
        self.plan = the_plan
        self.default = default_choice(the_plan.drink)
        self._extended: dict[tuple[str, ...], tuple[Plan, list[After]]] = {}

    def fit(self, choice: Choice) -> Fitted:
        """Work out the amounts of a choice and hold base back where that makes it fit."""
        full, _ = self._with(choice.add_ons)
        amounts = self._amounts(full, choice)
        after = simulate(full.ops, amounts)
        over, worst = excess(full, after)
        if over <= FIT_TOLERANCE_ML or choice == self.default:
            return Fitted(full.ops, after, 0.0, over, worst, None)
        return _held_back(full, amounts, after, over, worst)

    def serving(self, choice: Choice) -> Serving:
        """A choice worked out and wrapped for people: every step with its levels."""
        return serving(self.plan, choice, self.fit(choice))

    def _with(self, add_ons: tuple[str, ...]) -> tuple[Plan, list[After]]:
        """The plan with add-ons, and what the default choice makes of it."""
        known = self._extended.get(add_ons)
        if known is None:
            chosen = [a for key in add_ons for a in self.plan.drink.add_ons if a.id == key]
            full = with_add_ons(self.plan, chosen) if chosen else self.plan
            written = [None if op.line_ml is not None else op.amount for op in full.ops]
            known = self._extended[add_ons] = (full, simulate(full.ops, written))
        return known

    def _amounts(self, full: Plan, choice: Choice) -> list[float | None]:
        """What each op adds before anything is held back."""
        drink = self.plan.drink
        sweet = choice.sweetness if choice.sweetness is not None else 1.0
        ice = drink.ice.levels[choice.ice] if drink.ice and choice.ice is not None else 1.0
        amounts = _scaled(full.ops, sweet, ice)
        sweet_changed = choice.sweetness != self.default.sweetness
        ice_changed = choice.ice != self.default.ice
        if not (sweet_changed or ice_changed):
            return amounts
        body = next(i for i, op in enumerate(full.ops) if op.body)
        amounts[body] = self._body(full, body, sweet, ice, sweet_changed, ice_changed)
        return amounts

    def _body(
        self,
        full: Plan,
        body: int,
        sweet: float,
        ice: float,
        sweet_changed: bool,
        ice_changed: bool,
    ) -> float | None:
        """The body for a changed sweetness or ice, by the drink's policies; None pours its line.

        A recipe that is kept pours what the default pours. A body of a fixed amount takes the
        missing sweetener's place; where the line is kept under changed ice it restores the
        default's final liquid line, in closed form since the state does not depend on the order.
        Add-ons do not change it: what they need is held back afterwards.
        """
        drink, op = self.plan.drink, full.ops[body]
        make_up = drink.sweetness is not None and drink.sweetness.make_up == "base"
        keep_line = drink.ice is not None and drink.ice.keep == "line"
        poured = self._with(tuple(o.add_on.id for o in full.ops if o.add_on))[1][body].amount
        missing_ml = 0.0
        if sweet_changed and make_up:
            missing_ml = sum(
                o.amount - o.scaled(sweet)
                for o in full.ops
                if o.scales == "sweetness" and o.kind == "liquid"
            )
        if op.line_ml is not None:
            kept = (keep_line or not ice_changed) and (make_up or not sweet_changed)
            return None if kept else poured + missing_ml
        if not (ice_changed and keep_line) or op.shaker:
            made_up = poured + missing_ml
            return round_down(made_up, op.tool_step) if missing_ml else poured
        base, default_after = self._with(())
        at = next(i for i, o in enumerate(base.ops) if o.body)
        without = _scaled(base.ops, sweet, ice)
        without[at] = 0.0
        target = levels(default_after[-1].cup).liquid
        amount, _ = poured_to(simulate(base.ops, without)[-1].cup, target, op.density)
        return round_down(amount, op.tool_step)


def _scaled(ops: Sequence[Op], sweet: float, ice: float) -> list[float | None]:
    shares = {"sweetness": sweet, "ice": ice}
    return [None if op.line_ml is not None else op.scaled(shares.get(op.scales, 1.0)) for op in ops]


def excess(the_plan: Plan, after: Sequence[After]) -> tuple[float, int]:
    """How far the worst step stands over what is allowed, and which step that is.

    A verdict that lets ice stand proud or be pressed is about the finished drink; before that
    the heap must only stay in the cup.
    """
    worst, at = float("-inf"), 0
    last = len(after) - 1
    requires, working = the_plan.requires, the_plan.working_ml
    seen: Contents | None = None
    for i, step in enumerate(after):
        if step.cup is seen and i != last:
            continue
        seen = step.cup
        found = levels(step.cup)
        if requires == "fits":
            over = found.top - working
        elif i < last:
            over = found.top - the_plan.cup.brimful_ml
        else:
            over = _final_over(requires, step.cup, found, working)
        if over > worst:
            worst, at = over, i
    return worst, at


def _final_over(requires: str, cup: Contents, found: Levels, working: float) -> float:
    if requires == "lid_fits":
        return max(cup.sum_ml, cup.bed_ml + cup.ice_bulk_ml) - working
    return max(found.liquid, found.cap_top) - working


def _held_back(
    the_plan: Plan,
    amounts: list[float | None],
    after: list[After],
    over: float,
    worst: int,
) -> Fitted:
    """Leave out the least base that makes it fit, to the tool's step, on the safe side.

    A body poured to a line is lowered to a line that can be printed.
    """
    ops = the_plan.ops
    body = next((i for i, op in enumerate(ops) if op.body), None)
    if body is None:
        return Fitted(ops, after, 0.0, over, worst, None)
    planned = after[body].amount
    op = ops[body]

    def with_body(amount: float) -> tuple[list[After], float, int]:
        tried = list(amounts)
        tried[body] = amount
        result = simulate(ops, tried)
        return (result, *excess(the_plan, result))

    if with_body(0.0)[1] > FIT_TOLERANCE_ML:
        return Fitted(ops, after, 0.0, over, worst, None)
    low, high = 0.0, planned
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        if with_body(middle)[1] <= FIT_TOLERANCE_ML:
            low = middle
        else:
            high = middle
    line: float | None = None
    if op.line_ml is not None and not op.shaker:
        before = after[body - 1].cup if body else Contents()
        reached = levels(before.with_liquid(low, op.density)).liquid
        line = round_down(reached, op.tool_step)
        amount = min(low, poured_to(before, line, op.density)[0])
    else:
        amount = round_down(low, op.tool_step)
    held = planned - amount
    if held > the_plan.drink.hold_back_most_share * planned + FIT_TOLERANCE_ML:
        return Fitted(ops, after, 0.0, over, worst, None)
    result, left, at = with_body(amount)
    return Fitted(ops, result, held, left, at, line)


def verdict_of(the_plan: Plan, fitted: Fitted) -> str:
    """ "fits", "lid-pressed" (a flat lid presses the ice under) or "too-much"."""
    if fitted.over_ml > FIT_TOLERANCE_ML:
        return "too-much"
    if the_plan.requires == "fits":
        return "fits"
    top = levels(fitted.after[-1].cup).top
    return "fits" if top <= the_plan.working_ml + FIT_TOLERANCE_ML else "lid-pressed"


def serving(the_plan: Plan, choice: Choice, fitted: Fitted) -> Serving:
    """What was worked out, wrapped for people: every step with its levels."""
    figures: list[StepFigure] = []
    items = items_after(fitted.ops, fitted.after)
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
                used=_used(op, after, fitted, the_plan),
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


def _used(op: Op, after: After, fitted: Fitted, the_plan: Plan) -> Used | None:
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
        written_g=op.amount * (op.density if op.kind == "liquid" else 1.0),
        to_line_ml=line,
        to_line_mm=line_mm,
        already_over_ml=after.already_over_ml,
    )
