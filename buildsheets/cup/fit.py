"""A drink's build and a choice go in; what goes into the cup, made to fit where that can be, out.

The policies of the counter live here: what scales, what base replaces, which line is kept, and how
much base is held back so that a choice fits. The physics is in ``simulate`` and below.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from buildsheets.cup.contents import (
    Bed,
    Cap,
    Contents,
    Dusted,
    Ice,
    Liquid,
    judged_ml,
    levels,
    poured_to,
)
from buildsheets.cup.cup import FIT_TOLERANCE_ML
from buildsheets.cup.holdback import largest_within, most_within, round_down
from buildsheets.cup.serving import Choice
from buildsheets.cup.simulate import START, After, run
from buildsheets.cup.steps import LINE_STEP_ML, Build, BuildStep, amount_tolerance
from buildsheets.cup.tolerance import Spread, spread_of, straying
from buildsheets.menu.model import Drink

LEAST_SHARE = 0.25
"""A drink with less than this of its base, sweetener or topping is another drink; common practice,
no source. Ice may go altogether."""


class Fit(NamedTuple):
    """A choice worked out in numbers: its build, with add-ons, and the vessels after each step.

    ``over_ml`` is how far the worst step stands over what is allowed, 0 or less if it fits.
    ``line_ml`` is the body's line where it differs from the written one.
    """

    build: Build
    after: list[After]
    held_back_ml: float
    over_ml: float
    worst: int
    line_ml: float | None

    @property
    def verdict(self) -> str:
        """ "fits", "lid-pressed" (a flat lid presses the ice under) or "too-much"."""
        if self.over_ml > FIT_TOLERANCE_ML:
            return "too-much"
        if self.build.requires != "lid_fits":
            return "fits"
        top = levels(self.after[-1].cup).top
        return "fits" if top <= self.build.working_ml + FIT_TOLERANCE_ML else "lid-pressed"


def default_choice(drink: Drink) -> Choice:
    """The choice that is made when a guest says nothing."""
    return Choice(
        drink.sweetness.default if drink.sweetness else None,
        drink.ice.default if drink.ice else None,
    )


def shares(drink: Drink, choice: Choice) -> tuple[float, float]:
    """The shares of the written sweetener and of the written ice that a choice takes."""
    ice = drink.ice.levels[choice.ice] if drink.ice and choice.ice is not None else 1.0
    return (1.0 if choice.sweetness is None else choice.sweetness), ice


class Fitter:
    """Works out the choices of one drink in one cup, keeping what they share.

    Shares are of the written amounts, and what a policy keeps is what the recipe as written gives.
    """

    def __init__(self, build: Build) -> None:
        self.build = build
        self.default = default_choice(build.drink)
        self._extended: dict[tuple[str, ...], Build] = {(): build}
        self._fixed: dict[tuple[float, float], float] = {}

    def fit(self, choice: Choice) -> Fit:
        """Work out the amounts of a choice and hold base back where that makes it fit.

        The default choice is never held back: if it does not fit, the recipe is wrong.
        """
        if choice.add_ons not in self._extended:
            chosen = [a for key in choice.add_ons for a in self.build.drink.add_ons if a.id == key]
            self._extended[choice.add_ons] = self.build.plus(chosen)
        build = self._extended[choice.add_ons]
        amounts, line = self._amounts(build, *shares(build.drink, choice))
        after = run(build.steps, amounts)
        fit = Fit(build, after, 0.0, *excess(build, after), line)
        if fit.over_ml <= FIT_TOLERANCE_ML or choice == self.default:
            return fit
        return _held_back(amounts, fit)

    def spread(self, choice: Choice) -> Spread:
        """Spread, at the tools' tolerances, of the reading that meets the lid, against the working
        capacity: the top of everything, or what the verdict asked for judges."""
        fit = self.fit(choice)
        build = fit.build
        steps, amounts = list(build.steps), [after.amount for after in fit.after]
        body = steps[build.body]
        if fit.line_ml is not None and body.line_ml is not None:  # another line stays a line
            steps[build.body] = replace(body, line_ml=fit.line_ml)
        strays = [
            (i, step.name, step.tolerance(straying(step, amounts[i]), build.cup))
            for i, step in enumerate(steps)
            if step.item is not None and not isinstance(step.item, Dusted)
        ]

        def reading(after: Sequence[After]) -> float:
            return judged_ml(build.requires, after[-1].cup)

        capacity = build.working_ml, amount_tolerance(build.size.capacity_tolerance)
        return spread_of(steps, amounts, strays, reading, *capacity)

    def _amounts(
        self, build: Build, sweet: float, ice: float
    ) -> tuple[list[float | None], float | None]:
        """What each step adds before anything is held back, and the body's line if it is another.

        Add-ons do not change a body of a fixed amount: what they need is held back afterwards.
        """
        amounts = _scaled(build.steps, sweet, ice)
        body, step = build.body, build.steps[build.body]
        if sweet == 1.0 and ice == 1.0:
            return amounts, None
        if step.line_ml is None:
            amounts[body] = self._fixed_body(sweet, ice)
            return amounts, None
        more_base, same_line = self._more_base(sweet), self._same_line(ice)
        if more_base and same_line:
            return amounts, None
        before = _before(build, amounts)
        if more_base:
            poured = _poured(build, sweet, 1.0)
        else:
            # As much base as the recipe pours, and so less drink.
            with_ice = _before(build, _scaled(build.steps, sweet, 1.0))
            poured, line = _to_line(with_ice, step, _poured(build, 1.0, 1.0))
            if same_line:
                amounts[body] = poured_to(before, line, step.density)[0]
                return amounts, line
        amounts[body], line = _to_line(before, step, poured)
        return amounts, line

    def _more_base(self, sweet: float) -> bool:
        sweetness = self.build.drink.sweetness
        return sweet == 1.0 or (sweetness is not None and sweetness.with_less_sweet == "more_base")

    def _same_line(self, ice: float) -> bool:
        ice_levels = self.build.drink.ice
        return ice == 1.0 or (ice_levels is not None and ice_levels.with_less_ice == "same_line")

    def _fixed_body(self, sweet: float, ice: float) -> float:
        """A body of a fixed amount: it takes the place of missing sweetener, and of missing ice up
        to the line the drink has with all its ice; to the tool's step, on the safe side."""
        if (sweet, ice) in self._fixed:
            return self._fixed[sweet, ice]
        steps, body = self.build.steps, self.build.body
        step, amount = steps[body], steps[body].amount
        if sweet != 1.0 and self._more_base(sweet):
            sweeteners = [
                s for s in steps if s.scales == "sweetness" and isinstance(s.item, Liquid)
            ]
            missing = sum(s.amount - s.scaled(sweet) for s in sweeteners)
            amount = round_down(max(0.0, amount + missing), step.tool_step)
        if ice != 1.0 and self._same_line(ice):
            amounts = _scaled(steps, sweet, 1.0)

            def level(tried: float) -> float:
                amounts[body] = tried
                return levels(run(steps, amounts)[-1].cup).liquid

            line = level(amount)
            amounts = _scaled(steps, sweet, ice)
            most = amount + self.build.cup.brimful_ml  # more than any ice can have held up
            amount = largest_within(lambda tried: level(tried) - line, 0.0, most)
            amount = round_down(amount, step.tool_step)
        self._fixed[sweet, ice] = amount
        return amount


def _scaled(steps: Sequence[BuildStep], sweet: float, ice: float) -> list[float | None]:
    share = {"sweetness": sweet, "ice": ice, "": 1.0}
    return [None if s.line_ml is not None else s.scaled(share[s.scales]) for s in steps]


def _before(build: Build, amounts: Sequence[float | None]) -> Contents:
    """What is in the cup before the body."""
    after = run(build.steps[: build.body], amounts[: build.body])
    return (after or [START])[-1].cup


def _poured(build: Build, sweet: float, ice: float) -> float:
    """What the body's written line pours."""
    end = build.body + 1
    return run(build.steps[:end], _scaled(build.steps[:end], sweet, ice))[-1].amount


def _to_line(before: Contents, step: BuildStep, amount: float) -> tuple[float, float]:
    """(amount, line): a body poured to the printable line at or below what ``amount`` reaches."""
    assert step.item is not None
    line = round_down(levels(before.plus(step.item, amount)).liquid, step.tool_step)
    return min(amount, poured_to(before, line, step.density)[0]), line


def excess(build: Build, after: Sequence[After], first: int = 0) -> tuple[float, int]:
    """How far the worst step, from ``first`` on, stands over what is allowed, and which it is.

    A verdict that lets ice stand proud or be pressed is about the finished drink; before that
    the heap must only stay in the cup.
    """
    worst, at, last = -math.inf, 0, len(build.steps) - 1
    seen: Contents | None = None
    for i in range(first, len(after)):
        cup = after[i].cup
        if cup is not seen or (i == last and build.requires != "fits"):
            over = judged_ml(build.requires if i == last else "fits", cup) - build.limit_ml(i)
            worst, at = (over, i) if over > worst else (worst, at)
        seen = cup
    return worst, at


def _held_back(amounts: Sequence[float | None], too_much: Fit) -> Fit:
    """Leave out the least base that makes it fit, to the tool's step, on the safe side.

    A body poured to a line is lowered to a line that can be printed.
    """
    build, body = too_much.build, too_much.build.body
    step, planned = build.steps[body], too_much.after[body].amount
    before = too_much.after[:body]
    if before and excess(build, before)[0] > FIT_TOLERANCE_ML:
        return too_much

    def with_body(amount: float) -> list[After]:
        start = before[-1] if before else START
        return before + run(build.steps[body:], [amount, *amounts[body + 1 :]], start)

    least = planned * max(0.0, 1.0 - build.drink.hold_back_most_share)
    most = most_within(lambda amount: excess(build, with_body(amount), body)[0], least, planned)
    if most is None:
        return too_much
    amount, line = round_down(most, step.tool_step), too_much.line_ml
    if step.line_ml is not None:
        amount, line = _to_line(before[-1].cup if before else START.cup, step, most)
    if amount < least - FIT_TOLERANCE_ML:
        return too_much
    after = with_body(amount)
    return Fit(build, after, planned - amount, *excess(build, after), line)


class Most(NamedTuple):
    """The most of step ``at`` that fits, everything else as it is, and the least worth offering.

    ``whole`` is what it takes now, ``most`` a multiple of ``tool_step``; all in ml of a liquid or a
    line, in g of all else.
    """

    at: int
    step: BuildStep
    whole: float
    most: float
    least: float
    tool_step: float


def most_that_fits(fit: Fit) -> list[Most]:
    """For each amount of a build that is too much and can fix it alone, the most that fits.

    Order: what a counter can best do without, ice before base before cap before bed.
    """
    build, steps = fit.build, fit.build.steps
    used = [after.amount for after in fit.after]
    written = [None if s.line_ml is not None else u for s, u in zip(steps, used, strict=True)]
    found: list[Most] = []
    for at, step in enumerate(steps):
        if step.item is None or isinstance(step.item, Dusted):
            continue
        whole = step.line_ml if step.line_ml is not None else written[at] or 0.0
        tool_step = step.tool_step or (LINE_STEP_ML if step.line_ml is not None else 1.0)
        least = tool_step if isinstance(step.item, Ice) else LEAST_SHARE * whole
        if step.line_ml is not None and at > 0:
            # A line that is passed before anything is poured would be a fault of its own.
            least = max(least, levels(fit.after[at - 1].cup).liquid)

        def over(amount: float, at: int = at, step: BuildStep = step) -> float:
            tried, changed = list(written), list(steps)
            if step.line_ml is not None:
                changed[at] = replace(step, line_ml=amount)
            else:
                tried[at] = amount
            return excess(build, run(changed, tried))[0]

        if least < whole:
            most = round_down(most_within(over, least, whole) or 0.0, tool_step)
            if least <= most < whole and over(most) <= FIT_TOLERANCE_ML:
                found.append(Most(at, step, whole, most, least, tool_step))
    order = {Ice: 0, Cap: 2, Bed: 3}
    return sorted(found, key=lambda most: (order.get(type(most.step.item), 1), most.at))
