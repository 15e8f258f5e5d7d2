"""A build that is too much goes in; the most of each of its amounts that fits comes out."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from buildsheets.core.model import AddStep
from buildsheets.figures.build import BISECTIONS, Fitted, excess
from buildsheets.figures.cup import FIT_TOLERANCE_ML
from buildsheets.figures.plan import LINE_STEP_ML, Op, Plan, round_down
from buildsheets.figures.simulate import simulate


class Most(NamedTuple):
    """The most of op ``at`` that fits, everything else as it is.

    ``amount`` is rounded down to the tool's step: ml of a liquid or a line, g of all else.
    """

    at: int
    op: Op
    amount: float


def most_that_fits(the_plan: Plan, fitted: Fitted) -> list[Most]:
    """For each amount of the build that can mend it alone, the most that fits; ice first.

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
        # Ice may go altogether; a drink without its base or topping is another drink.
        least = 0.0 if op.kind == "ice" else 0.25 * whole
        low, high = least, whole
        if _over(the_plan, ops, written, i, low) > FIT_TOLERANCE_ML:
            continue
        for _ in range(BISECTIONS):
            middle = 0.5 * (low + high)
            if _over(the_plan, ops, written, i, middle) <= FIT_TOLERANCE_ML:
                low = middle
            else:
                high = middle
        amount = round_down(low, op.tool_step or (LINE_STEP_ML if op.line_ml else 1.0))
        if (
            amount >= least
            and amount > 0.0
            and _over(the_plan, ops, written, i, amount) <= FIT_TOLERANCE_ML
        ):
            found.append(Most(i, op, amount))
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
    after = simulate(changed, tried)
    # A line that is passed before anything is poured would be a fault of its own.
    if any(step.already_over_ml > FIT_TOLERANCE_ML for step in after):
        return float("inf")
    return excess(the_plan, after)[0]
