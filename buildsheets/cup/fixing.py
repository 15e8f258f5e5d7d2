"""A build that is too much goes in; the most of each of its amounts that fits comes out."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from buildsheets.cup.build import Fitted, excess, largest_within
from buildsheets.cup.contents import levels
from buildsheets.cup.cup import FIT_TOLERANCE_ML
from buildsheets.cup.plan import LINE_STEP_ML, Op, Plan, round_down
from buildsheets.cup.simulate import simulate
from buildsheets.menu.model import AddStep

LEAST_SHARE = 0.25
"""A drink with less than this of its base, sweetener or topping is another drink; common practice,
no source. Ice may go altogether."""


class Most(NamedTuple):
    """The most of op ``at`` that fits, everything else as it is, and the least worth offering.

    ``whole`` is what it takes now, ``most`` a multiple of ``step``; all in ml of a liquid or a
    line, in g of all else.
    """

    at: int
    op: Op
    whole: float
    most: float
    least: float
    step: float


def most_that_fits(the_plan: Plan, fitted: Fitted) -> list[Most]:
    """For each amount of the build that can fix it alone, the most that fits; ice first.

    Order: what a counter can best do without, ice before base before cap before the rest.
    """
    ops = fitted.ops
    written = [
        None if op.line_ml is not None else a.amount
        for op, a in zip(ops, fitted.after, strict=True)
    ]
    found: list[Most] = []
    for i, op in enumerate(ops):
        if not isinstance(op.step, AddStep) or op.kind == "dust":
            continue
        whole = op.line_ml if op.line_ml is not None else written[i] or 0.0
        step = op.tool_step or (LINE_STEP_ML if op.line_ml is not None else 1.0)
        least = step if op.kind == "ice" else LEAST_SHARE * whole
        if op.line_ml is not None and i > 0:
            # A line that is passed before anything is poured would be a fault of its own.
            least = max(least, levels(fitted.after[i - 1].cup).liquid)

        def over(amount: float, at: int = i) -> float:
            return _over(the_plan, ops, written, at, amount) - FIT_TOLERANCE_ML

        if least < whole and over(least) <= 0.0:
            most = round_down(largest_within(over, least, whole), step)
            if least <= most < whole and over(most) <= 0.0:
                found.append(Most(i, op, whole, most, least, step))
    order = {"ice": 0, "liquid": 1, "cap": 2, "bed": 3}
    return sorted(found, key=lambda most: (order[most.op.kind], most.at))


def _over(
    the_plan: Plan, ops: tuple[Op, ...], written: list[float | None], index: int, amount: float
) -> float:
    tried, changed = list(written), list(ops)
    if ops[index].line_ml is not None:
        changed[index] = replace(ops[index], line_ml=amount)
    else:
        tried[index] = amount
    return excess(the_plan, simulate(changed, tried))[0]
