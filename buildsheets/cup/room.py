"""A choice whose base is still open goes in; how far any base of it is over, and the most that
leaves room enough, come out.

Room enough: under the fill limit at every step, and at the lid under it by what the tools of the
shop stray, so that few cups pass it (fill model section 5).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from typing import NamedTuple

from buildsheets.cup.contents import Levels, judged_ml, levels, poured_to
from buildsheets.cup.cup import FIT_TOLERANCE_ML
from buildsheets.cup.holdback import most_within, round_down, round_up
from buildsheets.cup.items import Dusted
from buildsheets.cup.simulate import START, After, run
from buildsheets.cup.steps import Build, amount_tolerance
from buildsheets.cup.tolerance import AmountTolerance, Spread, spread_of, straying


class Made(NamedTuple):
    """A trial with a base: the vessels after each step, how far the worst step is over what is
    allowed, which it is, how far what meets the lid is over the fill limit, and what meets it:
    builds of one ``kind`` stray alike."""

    base: float
    after: list[After]
    over_ml: float
    worst: int
    lid_ml: float
    kind: tuple[bool, ...]


class Trial:
    """A choice in numbers but for its base, of which ``planned`` is taken if nothing is held back.

    A base here is ml of a liquid or, where it is poured to a line, the reading of the line.
    ``hands_ml`` is the room kept under the fill limit for what the tools stray. ``may_pass``: of a
    recipe whose own line is passed before it is poured to, which is a finding of its own.
    """

    def __init__(self, build: Build, amounts: Sequence[float | None], planned: float) -> None:
        self.build, self.amounts, self.planned = build, amounts, planned
        self.step = build.steps[build.body]
        self.before = run(build.steps[: build.body], amounts[: build.body])
        self.start = self.before[-1] if self.before else START
        self.stands_ml = levels(self.start.cup).liquid if self.step.line_ml is not None else 0.0
        self.hands_ml = 0.0
        self.may_pass = False
        self._made: Made | None = None
        self._stands_ml: dict[float, tuple[float, float]] = {}  # by base: at worst, at the lid

    def poured(self, base: float) -> float:
        """ml of the liquid that a base is."""
        if self.step.line_ml is None:
            return base
        return poured_to(self.start.cup, base, self.step.density, self.stands_ml)[0]

    def made(self, base: float) -> Made:
        """The choice with a base; kept until another is asked for."""
        if self._made is None or self._made.base != base:
            build, at = self.build, self.build.body
            as_written = base == self.step.line_ml
            amount = None if as_written else self.poured(base)
            rest = run(build.steps[at:], [amount, *self.amounts[at + 1 :]], self.start)
            after = self.before + rest
            end = levels(after[-1].cup)
            over, worst = excess(build, after, end)
            judged = judged_ml(build.requires, after[-1].cup, end, build.dome_ml)
            rests = end.ice_bottom <= end.bed_top
            domed = build.dome is not None and judged == end.cap_top - build.dome_ml
            kind = rests, end.cap_top == end.top, end.ice_top == end.top, domed
            self._made = Made(base, after, over, worst, judged - build.working_ml, kind)
        return self._made

    def over(self, base: float) -> float:
        """How far it is over what is allowed, room for hands included; 0 or less if it fits."""
        if base not in self._stands_ml:
            made = self.made(base)
            self._stands_ml[base] = made.over_ml, made.lid_ml
        over_ml, lid_ml = self._stands_ml[base]
        return max(over_ml, lid_ml + self.hands_ml) if self.hands_ml else over_ml

    def stands_higher(self, other: Made) -> bool:
        """Whether what is planned stands higher at the lid than another build, or strays in another
        way; else it needs no more room for hands."""
        mine = self.made(self.planned)
        alike = mine.kind == other.kind or not mine.after[-1].cup.afloat_ml
        return mine.lid_ml > other.lid_ml + FIT_TOLERANCE_ML or not alike

    @cached_property
    def least(self) -> float:
        """The least base that the shop lets a drink have, as it can be measured."""
        step = self.step
        most_share = 0.0 if step.stays else self.build.drink.hold_back_most_share
        least = self.poured(self.planned) * max(0.0, 1.0 - most_share)
        if step.line_ml is not None and step.item is not None:
            least = levels(self.start.cup.plus(step.item, least)).liquid
        return min(self.planned, round_up(least, step.tool_step))

    def less(self, taken: float) -> float:
        """The base that is left where so much is taken of it, as it can be measured."""
        if taken <= 0.0:
            return self.planned
        return max(0.0, round_up(self.planned, self.step.tool_step) - taken)

    def thin(self, taken: float) -> bool:
        """Whether more of the base is taken than the shop lets be left out."""
        left = round_up(self.planned, self.step.tool_step) - taken
        return left < self.least - FIT_TOLERANCE_ML

    def need(self, taken: float) -> float | None:
        """What must be taken, at least ``taken``, so that it fits; None if it never does."""
        base = self.less(taken)
        if self.over(base) <= FIT_TOLERANCE_ML:
            return taken
        least = self.least
        most = most_within(self.over, least, base) if least < base else None
        if most is None:
            return None
        step = self.step.tool_step
        left = round_down(most, step)
        if left < least - FIT_TOLERANCE_ML:
            return None
        return max(step, round_up(self.planned, step) - left)

    def passed(self, base: float) -> tuple[float, int]:
        """How far what is in the cup stands over a line before anything is poured to it, and at
        which step."""
        if self.may_pass:
            return 0.0, 0
        over = [after.already_over_ml for after in self.made(base).after]
        if self.step.line_ml is not None:
            over[self.build.body] = max(0.0, self.stands_ml - base)
        worst = max(over)
        return worst, over.index(worst)

    def can_be_served(self, base: float) -> bool:
        """Whether it fits at a base, or at the least it may have where the base is still less, and
        something is poured to each of its lines."""
        if self.over(base) > FIT_TOLERANCE_ML:
            return False
        if base < self.planned and self.over(max(base, self.least)) > FIT_TOLERANCE_ML:
            return False
        return self.passed(base)[0] <= FIT_TOLERANCE_ML

    def room_ml(self, base: float, most: Sequence[float]) -> float:
        """The room for hands of a base: so few cups pass the fill limit as the shop asks for, where
        each step strays as it does for the ``most`` that is measured in choices like this one."""
        return self.spread(base, most).room_ml(self.build.drink.overflow_most_share)

    def spread(self, base: float, most: Sequence[float] | None = None) -> Spread:
        """Spread, at the tools' tolerances, of the reading that meets the lid, against the fill
        limit. With ``most``, many are asked for: it has the terms alone that do stray, as they do
        for those amounts, by differences to one side."""
        build, steps = self.build, list(self.build.steps)
        if self.step.line_ml is not None and base != self.step.line_ml:
            steps[build.body] = replace(self.step, line_ml=base)  # another line stays a line
        amounts = [after.amount for after in self.made(base).after]
        strays = []
        for i, step in enumerate(steps):
            if step.item is None or isinstance(step.item, Dusted):
                continue
            amount = straying(step, amounts[i] if most is None else most[i])
            tolerance = step.tolerance(amount, build.cup)
            if most is not None:
                tolerance = AmountTolerance(tolerance.half_width(amount), kind=tolerance.kind)
            if most is None or tolerance.size > 0.0:
                strays.append((i, step.name, tolerance))

        def reading(after: Sequence[After]) -> float:
            return judged_ml(build.requires, after[-1].cup, dome_ml=build.dome_ml)

        capacity = build.working_ml, amount_tolerance(build.size.capacity_tolerance)
        return spread_of(steps, amounts, strays, reading, *capacity, central=most is None)


def excess(build: Build, after: Sequence[After], end: Levels | None = None) -> tuple[float, int]:
    """How far the worst step stands over what is allowed, and which it is. ``end`` are the levels
    of the last, if known already.

    A verdict that lets ice stand proud or be pressed is about the finished drink; before that
    the heap must only stay in the cup.
    """
    worst, at, last = -math.inf, 0, len(build.steps) - 1
    finished = after[-1].cup
    for i in build.fullest:
        cup = after[i].cup
        known = end if cup is finished else None
        over = judged_ml("fits", cup, known, build.dome_ml) - build.top_limit_ml
        if i == last and build.requires != "fits":
            judged = judged_ml(build.requires, cup, known, build.dome_ml)
            over = max(over, judged - build.working_ml)
        if build.steps[i].foams:  # the lid is not on yet: a head may rise to the rim
            over = max(over, build.head_top_ml(i, after[i]) - build.cup.brimful_ml)
        worst, at = (over, i) if over > worst else (worst, at)
    return worst, at
