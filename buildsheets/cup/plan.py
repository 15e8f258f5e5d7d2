"""A drink's steps for one cup, made ready to figure: model steps in, plain numbers per step out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from buildsheets.cup.cup import FIT_TOLERANCE_ML, Cup, calibration, frustum, profile
from buildsheets.cup.errors import AboveRimError
from buildsheets.menu.model import (
    AddOn,
    AddStep,
    Amount,
    CupShape,
    CupSize,
    Drink,
    LineTo,
    Step,
    Tool,
)

ROOM_C = 20.0
"""Temperature of a component that states none: room temperature, common practice, no source."""

LINE_STEP_ML = 5.0
"""A printed line is read to 5 ml: finer marks do not stand on a cup (fill model, "What to show
to a barista")."""


@dataclass(frozen=True, slots=True)
class Op:
    """One step in numbers.

    ``amount`` is in ml for a liquid and in g for all else; ``extra`` is a bed's bulk density, an
    ice's packing or a cap's overrun in percent; ``scales`` names the option that scales it.
    """

    step: Step
    kind: str  # "liquid", "bed", "ice", "cap", "dust", "shake", "pour", "chill", "none"
    amount: float = 0.0
    density: float = 1.0
    extra: float = 0.0
    line_ml: float | None = None
    line_mm: float | None = None
    scales: str = ""
    shaker: bool = False
    body: bool = False
    temperature_c: float = ROOM_C
    tool_step: float = 0.0  # in the unit of ``amount``; 0 where nothing is rounded
    count_unit: float = 0.0  # one tool count in the unit of ``amount``; 0 if not counted
    add_on: AddOn | None = None

    def scaled(self, share: float) -> float:
        """The amount at a share, rounded down to the tool's step; whole at a share of 1."""
        if share == 1.0:
            return self.amount
        return round_down(self.amount * share, self.tool_step)


@dataclass(frozen=True, slots=True)
class Plan:
    """The ops of a drink in a cup, the cup itself and what may be filled of it."""

    drink: Drink
    size: CupSize
    cup: Cup
    working_ml: float
    ops: tuple[Op, ...]
    requires: str  # the verdict asked for: "fits", "lid_fits" or "fluid_fits"

    @property
    def body(self) -> int:
        """The place of the op that makes room for the rest; every drink has one."""
        return next(i for i, op in enumerate(self.ops) if op.body)


def round_down(amount: float, step: float) -> float:
    """The largest multiple of ``step`` not above ``amount``; forgives binary noise."""
    return amount if step <= 0.0 else math.floor(amount / step + 1e-9) * step


@lru_cache(maxsize=256)
def cup_of(shape: CupShape) -> Cup:
    """The geometry of a cup's inside. Raises ``FigureError`` for a shape that cannot be."""
    if shape.frustum is not None:
        return frustum(*shape.frustum)
    if shape.profile is not None:
        return profile(shape.profile)
    return calibration(shape.calibration or ())


def working_ml_of(size: CupSize) -> float:
    """What may be filled of a cup: to the rim less its headspace."""
    cup = cup_of(size.shape)
    if size.headspace_ml is not None:
        return cup.working_ml(headspace_ml=size.headspace_ml)
    return cup.working_ml(headspace_mm=size.headspace_mm or 0.0)


def plan(drink: Drink, size: CupSize) -> Plan:
    """Make a drink's steps ready for one cup. Raises ``AboveRimError`` for a line over the rim."""
    cup = cup_of(size.shape)
    ops = tuple(_op(step, size, cup, None) for step in drink.steps)
    if size.lid == "none":
        requires = "fluid_fits"
    elif size.lid == "flat" and drink.lid_may_press:
        requires = "lid_fits"
    else:
        requires = "fits"
    return Plan(drink, size, cup, working_ml_of(size), ops, requires)


def with_add_ons(the_plan: Plan, add_ons: Sequence[AddOn]) -> Plan:
    """The plan with add-ons put where their kind belongs.

    Settled ones lie on the last settled topping (or first of all), liquids go in before the body,
    caps lie on all but what is dusted, dusted ones come last.
    """
    ops = list(the_plan.ops)
    for add_on in add_ons:
        op = _add_on_op(add_on, the_plan)
        ops.insert(_place(ops, op), op)
    return replace(the_plan, ops=tuple(ops))


def _add_on_op(add_on: AddOn, the_plan: Plan) -> Op:
    component = add_on.component
    made = add_on.amounts[the_plan.size.id]
    station = component.station
    step = AddStep(
        component=component,
        amounts={the_plan.size.id: made},
        station=station,
        tool=component.tool,
        note=component.note,
        span=add_on.span,
    )
    return replace(_op(step, the_plan.size, the_plan.cup, add_on), scales="")


def _place(ops: list[Op], op: Op) -> int:
    def after_last(*kinds: str) -> int:
        return max(
            (i + 1 for i, o in enumerate(ops) if o.kind in kinds and not o.shaker), default=0
        )

    if op.kind == "bed":
        return after_last("bed")
    if op.kind == "liquid":
        return next((i for i, o in enumerate(ops) if o.body and not o.shaker), 0)
    fluids = after_last("liquid", "bed", "ice", "cap", "shake", "pour", "chill")
    return fluids if op.kind == "cap" else after_last("dust") or fluids


def _op(step: Step, size: CupSize, cup: Cup, add_on: AddOn | None) -> Op:
    if not isinstance(step, AddStep):
        moves = step.action in ("shake", "pour", "chill")
        return Op(step, step.action if moves else "none")
    component = step.component
    made = step.amounts[size.id]
    kind = {
        "liquid": "liquid",
        "settled": "bed",
        "floated": "cap",
        "dusted": "dust",
        "ice": "ice",
    }[component.behaves]
    extra = {
        "bed": component.bulk_density_g_ml or 0.0,
        "ice": component.packing or 0.0,
        "cap": component.overrun_pct,
    }.get(kind, 0.0)
    temperature = ROOM_C if component.temperature_c is None else component.temperature_c
    op = Op(
        step,
        kind,
        density=component.density_g_ml,
        extra=extra,
        scales={"sweetener": "sweetness", "ice": "ice"}.get(component.role, ""),
        shaker=step.into == "shaker",
        body=step.makes_room,
        temperature_c=temperature,
        add_on=add_on,
    )
    if isinstance(made, LineTo):
        line = (
            made.line_ml
            if made.line_ml is not None
            else cup.volume_ml(_checked_mm(made.line_mm or 0.0, cup))
        )
        if line > cup.brimful_ml + FIT_TOLERANCE_ML:
            raise AboveRimError(
                "line_ml", line, f"the cup holds {cup.brimful_ml:.0f} ml to the rim"
            )
        return replace(op, line_ml=line, line_mm=made.line_mm, tool_step=LINE_STEP_ML)
    tool_step, count_unit = _tool_units(step.tool, made, kind)
    amount = made.volume_ml if kind == "liquid" else made.mass_g
    return replace(op, amount=amount, tool_step=tool_step, count_unit=count_unit)


def _checked_mm(line_mm: float, cup: Cup) -> float:
    if line_mm > cup.rim_height_mm:
        raise AboveRimError("line_mm", line_mm, f"the cup is {cup.rim_height_mm:g} mm high")
    return line_mm


def _tool_units(tool: Tool | None, made: Amount, kind: str) -> tuple[float, float]:
    """The tool's step and one count of it, in ml for a liquid and in g for all else."""
    if tool is None:
        return 0.0, 0.0
    grams_per_ml = made.mass_g / made.volume_ml if made.volume_ml else 1.0
    to_unit = {
        "ml": 1.0 if kind == "liquid" else grams_per_ml,
        "g": 1.0 if kind != "liquid" else 1.0 / grams_per_ml,
    }
    if tool.unit == "count":
        one = (
            tool.holds_ml * to_unit["ml"]
            if tool.holds_ml is not None
            else (tool.holds_g or 0.0) * to_unit["g"]
        )
        return tool.step * one, one
    return tool.step * to_unit.get(tool.unit, 0.0), 0.0
