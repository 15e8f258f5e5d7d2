"""A fitted build and its tools' tolerances go in; the spread of its level comes out.

As ``tolerance.build_spread``, for builds that are shaken or chilled on the way: sensitivities are
central differences of the whole simulation (fill model section 5).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from buildsheets.cup.build import Fitted, judged_ml
from buildsheets.cup.contents import levels
from buildsheets.cup.plan import Op, Plan
from buildsheets.cup.simulate import simulate
from buildsheets.cup.tolerance import EXACT, Spread, Term, Tolerance, combine
from buildsheets.menu import model
from buildsheets.menu.model import AddStep

HALF_STEP = 1e-3  # ml or g; levels are piecewise linear, so only kinks matter


def spread(the_plan: Plan, fitted: Fitted) -> Spread:
    """Spread of the level that meets the lid, against the working capacity.

    The level is the top of everything, or of the drink alone where ice may stand proud or is
    pressed under.
    """
    ops = _with_lines(fitted)
    amounts = [
        None if op.line_ml is not None else after.amount
        for op, after in zip(ops, fitted.after, strict=True)
    ]
    terms = tuple(
        Term(
            _name(op),
            amount,
            _tolerance(op, amount, the_plan),
            _sensitivity(the_plan, ops, amounts, i),
        )
        for i, op in enumerate(ops)
        if isinstance(op.step, AddStep)
        and op.kind != "dust"
        and (amount := op.line_ml if op.line_ml is not None else amounts[i]) is not None
    )
    return combine(
        terms,
        nominal_ml=_level(the_plan, ops, amounts),
        capacity_ml=the_plan.working_ml,
        capacity_tolerance=_shared(the_plan.size.capacity_tolerance, 1.0, 1.0),
    )


def _name(op: Op) -> str:
    return op.step.component.id if isinstance(op.step, AddStep) else op.kind


def _with_lines(fitted: Fitted) -> tuple[Op, ...]:
    """The ops with the body's own line where the choice has another: a line stays a line."""
    if fitted.line_ml is None:
        return fitted.ops
    return tuple(
        replace(op, line_ml=fitted.line_ml) if op.body and op.line_ml is not None else op
        for op in fitted.ops
    )


def _level(the_plan: Plan, ops: Sequence[Op], amounts: Sequence[float | None]) -> float:
    cup = simulate(ops, amounts)[-1].cup
    return judged_ml(the_plan.requires, cup, levels(cup))


def _sensitivity(
    the_plan: Plan, ops: Sequence[Op], amounts: Sequence[float | None], index: int
) -> float:
    """ml of level per unit of the amount, or per ml of the line."""
    ends: list[tuple[float, float]] = []
    for shift in (-HALF_STEP, HALF_STEP):
        moved_ops, moved = list(ops), list(amounts)
        line = ops[index].line_ml
        if line is not None:
            at = max(0.0, line + shift)
            moved_ops[index] = replace(ops[index], line_ml=at)
        else:
            at = moved[index] = max(0.0, (amounts[index] or 0.0) + shift)
        ends.append((at, _level(the_plan, moved_ops, moved)))
    (low, at_low), (high, at_high) = ends
    return (at_high - at_low) / (high - low)


def _tolerance(op: Op, amount: float, the_plan: Plan) -> Tolerance:
    tool = op.step.tool if isinstance(op.step, AddStep) else None
    if tool is None or tool.tolerance is None:
        return EXACT
    given = tool.tolerance
    if given.unit == "mm":
        line = min(amount, the_plan.cup.brimful_ml)
        area = the_plan.cup.area_mm2(the_plan.cup.height_mm(line))
        return _shared(given, area / 1000.0, 1.0)
    # Each count strays on its own: limits add up, standard uncertainties by their squares.
    counts = amount / op.count_unit if op.count_unit else 1.0
    return _shared(given, _per_unit(op, given.unit), counts)


def _per_unit(op: Op, unit: str) -> float:
    """One ml or g of the tool in the unit of the op's amount (ml of a liquid, g of all else)."""
    if op.kind == "liquid":
        return 1.0 if unit != "g" else 1.0 / op.density
    if unit != "ml":
        return 1.0
    return {
        "bed": op.extra,
        "ice": op.density * op.extra,
        "cap": op.density / (1.0 + op.extra / 100.0),
    }.get(op.kind, op.density)


def _shared(given: model.Tolerance | None, unit: float, counts: float) -> Tolerance:
    if given is None:
        return EXACT
    kind: Literal["limit", "std"] = "std" if given.kind == "std" else "limit"
    if given.share is not None:
        return Tolerance(100.0 * given.share, True, kind)
    grown = math.sqrt(counts) if kind == "std" else counts
    return Tolerance((given.absolute or 0.0) * unit * grown, False, kind)
