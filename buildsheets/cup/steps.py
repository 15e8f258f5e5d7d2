"""A drink of the menu and a cup go in; its steps in plain numbers, ready to be run, come out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, NamedTuple

from buildsheets.cup.contents import Verdict, levels
from buildsheets.cup.cup import Cup, calibration, frustum, profile
from buildsheets.cup.dome import Dome
from buildsheets.cup.fill import over_working_ml
from buildsheets.cup.holdback import round_near
from buildsheets.cup.items import Bed, Cap, Dusted, Ice, Item, Liquid, Slice, Swimmer
from buildsheets.cup.simulate import After, PlainStep, ToLine
from buildsheets.cup.tolerance import EXACT, AmountTolerance
from buildsheets.menu import model
from buildsheets.menu.model import (
    EMPTIES,
    AddOn,
    AddStep,
    Amount,
    Component,
    CupShape,
    CupSize,
    Drink,
    Step,
)
from buildsheets.menu.volumes import ML, VolumeUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildStep(PlainStep):
    """A step of the menu in numbers; amounts are in ml of a liquid and in g of all else.

    ``amount`` is the written one, 0 for a line; ``scales`` names the option that scales it.
    ``tool_step`` is what the tool can measure to, 0 where nothing is rounded; ``count_unit`` one
    count of the tool, 0 if it is not counted. ``foams``: a head of foam rises while it is poured
    into the cup.
    """

    step: Step
    amount: float = 0.0
    line_mm: float | None = None
    scales: Literal["", "sweetness", "ice"] = ""
    body: bool = False
    tool_step: float = 0.0
    count_unit: float = 0.0
    add_on: AddOn | None = None
    foams: bool = False

    @property
    def name(self) -> str:
        """The id of what is added, or what is done."""
        return self.step.component.id if isinstance(self.step, AddStep) else self.action

    @property
    def per_ml(self) -> float:
        """The amount in a ml as it is measured out: bulk of beds and ice, whipped of caps."""
        item = self.item
        return self.density if item is None or isinstance(item, Dusted) else item.per_ml

    @property
    def stays(self) -> bool:
        """Whether it neither makes room nor takes it: a shot, unless the menu says that it does."""
        step = self.step
        shot = isinstance(step, AddStep) and step.component.shot is not None
        return shot and not step.says("makes_room")

    @property
    def fills(self) -> bool:
        """Whether it adds to the cup."""
        return self.item is not None and not self.shaker

    @property
    def brings_ice(self) -> bool:
        """Whether ice may come into the cup with it."""
        poured = self.action == "pour" or (self.action == "shake" and not self.strained)
        return poured or (isinstance(self.item, Ice) and not self.shaker)

    def scaled(self, share: float) -> float:
        """The amount at a share, to the tool's nearest step; whole at a share of 1, and at a lower
        one no more than that."""
        near = self.amount if share == 1.0 else round_near(self.amount * share, self.tool_step)
        return min(near, self.amount) if share < 1.0 else near

    def tolerance(self, amount: float, cup: Cup) -> AmountTolerance:
        """How far the tool strays from an amount, or from a line in ml."""
        tool = self.step.tool if isinstance(self.step, AddStep) else None
        if tool is None or tool.tolerance is None:
            return EXACT
        given = tool.tolerance
        if given.unit == "mm":
            area = cup.area_mm2(cup.height_mm(min(amount, cup.brimful_ml)))
            return amount_tolerance(given, area / 1000.0)
        # Each count strays on its own: limits add up, standard uncertainties by their squares.
        counts = amount / self.count_unit if self.count_unit else 1.0
        if isinstance(self.item, Liquid):
            unit = 1.0 / self.density if given.unit == "g" else 1.0
        else:
            unit = self.per_ml if given.unit == "ml" else 1.0
        return amount_tolerance(given, unit, counts)


def amount_tolerance(
    given: model.Tolerance | None, unit: float = 1.0, counts: float = 1.0
) -> AmountTolerance:
    """A tolerance as the menu gives it, for so many counts, its unit being ``unit`` of ours."""
    if given is None:
        return EXACT
    kind: Literal["limit", "std"] = "std" if given.kind == "std" else "limit"
    if given.share is not None:
        return AmountTolerance(100.0 * given.share, True, kind)
    grown = math.sqrt(counts) if kind == "std" else counts
    return AmountTolerance((given.absolute or 0.0) * unit * grown, False, kind)


@dataclass(frozen=True, slots=True)
class Build:
    """The steps of a drink in a cup, the cup itself and what may be filled of it.

    ``requires`` is the verdict asked for; ``body`` the place of the step that makes room for the
    rest: every drink has one. ``fullest`` are the places after which the cup may be the fullest:
    not those after which more is added. Under a ``dome`` a cap may stand ``dome_ml`` over what may
    be filled.
    """

    drink: Drink
    size: CupSize
    cup: Cup
    working_ml: float
    steps: tuple[BuildStep, ...]
    requires: Verdict
    body: int
    fullest: tuple[int, ...]
    dome: Dome | None = None
    dome_ml: float = 0.0

    @property
    def top_limit_ml(self) -> float:
        """What the top may read after any step: working capacity, or brimful where ice may stand
        proud or be pressed."""
        return self.working_ml if self.requires == "fits" else self.cup.brimful_ml

    def head_top_ml(self, at: int, after: After) -> float:
        """What the foam reads while step ``at`` is poured, before it falls; 0 where none rises.

        It fills the gaps of ice that stands out, as a cap does. A head in mm was measured over
        the drink, in a cup. That of the step before has fallen.
        """
        step = self.steps[at]
        if not step.foams or after.amount <= 0.0:
            return 0.0
        assert isinstance(step.step, AddStep)
        share, rise_mm = step.step.component.head_share, step.step.component.head_mm
        if rise_mm is not None:
            return self.cup.reading_above(levels(after.cup).fluid_top, rise_mm)
        foam_ml = (share or 0.0) * after.amount
        return levels(after.cup._replace(cap_ml=after.cup.cap_ml + foam_ml)).cap_top

    def plus(self, add_ons: Sequence[AddOn]) -> Build:
        """The build with add-ons put where their kind belongs.

        Settled ones lie on the last settled topping (or first of all) under the ice; liquids go in
        before the body, where it goes, and shots before the chill that the body follows; slices on
        the wall come first of all, pieces that swim after the last liquid, ice or stir; floated
        ones come after the last stir, shake, pour, swirl or chill and after all else but what is
        dusted; dusted ones come last, before the lid.
        """
        steps = list(self.steps)
        for add_on in add_ons:
            component = add_on.component
            base = steps[_body(steps)].step
            assert isinstance(base, AddStep)
            written = AddStep(
                component=component,
                amounts=add_on.amounts,
                into=base.into if component.behaves == "liquid" else "cup",
                station=component.station,
                tool=component.tool,
                note=component.note,
                span=add_on.span,
            )
            step = _build_step(written, self.size, self.cup)
            step = replace(step, scales="", add_on=add_on, layered=self.drink.layered)
            steps.insert(_place(steps, step), step)
        return replace(
            self, steps=tuple(steps), body=_body(steps), fullest=_fullest(steps, self.requires)
        )


@lru_cache(maxsize=256)
def cup_of(shape: CupShape) -> Cup:
    """The geometry of a cup's inside. Raises ``FigureError`` for a shape that cannot be."""
    if shape.frustum is not None:
        return frustum(*shape.frustum)
    if shape.profile is not None:
        return profile(shape.profile)
    return calibration(shape.calibration or ())


def dome_of(size: CupSize) -> Dome | None:
    """The dome that closes a cup, where its inside was measured."""
    rim_mm, height_mm = size.rim_width_mm or size.outline_mm[-1][1], size.dome_high_mm
    return Dome(rim_mm, height_mm, size.dome_hole_mm) if height_mm else None


def build_of(drink: Drink, size: CupSize) -> Build:
    """Make a drink's steps ready for one cup. Raises ``AboveRimError`` for a line over the rim, and
    ``FigureError`` for a headspace that the cup has not."""
    cup = cup_of(size.shape)
    working_ml = cup.working_ml(headspace_mm=size.headspace_mm, headspace_ml=size.headspace_ml)
    steps = tuple(_build_step(step, size, cup) for step in drink.steps)
    if drink.layered:
        steps = tuple(replace(step, layered=True) for step in steps)
    requires: Verdict = "fits"
    if size.lid == "none":
        requires = "fluid_fits"
    elif size.lid == "flat" and drink.lid_may_press:
        requires = "lid_fits"
    body, fullest = _body(steps), _fullest(steps, requires)
    dome = dome_of(size)
    dome_ml = over_working_ml(cup, working_ml, dome)
    return Build(drink, size, cup, working_ml, steps, requires, body, fullest, dome, dome_ml)


def _fullest(steps: Sequence[BuildStep], requires: Verdict) -> tuple[int, ...]:
    changing = [
        i
        for i, step in enumerate(steps)
        if (step.fills and not isinstance(step.item, Dusted)) or step.action in (*EMPTIES, "chill")
    ]
    if requires != "fits":  # what the lid presses or lets stand is judged at the end alone
        return tuple(dict.fromkeys([*changing, len(steps) - 1]))
    following = [*changing[1:], None]
    return tuple(
        i
        for i, after in zip(changing, following, strict=True)
        if after is None or steps[after].item is None or steps[i].foams
    )


def _body(steps: Sequence[BuildStep]) -> int:
    return next(i for i, step in enumerate(steps) if step.body)


def has_head(component: Component) -> bool:
    """Whether foam rises while it is poured, as far as the shop says so."""
    return component.head_share is not None or component.head_mm is not None


MOVES = ("stir", "swirl", *EMPTIES, "chill")
"""Actions that would sink a floated topping into the drink, or pour the drink over it."""


def _place(steps: Sequence[BuildStep], new: BuildStep) -> int:
    """Where an add-on goes by its kind; all of them before the lid."""
    lid = next((i for i, step in enumerate(steps) if step.action == "lid"), len(steps))
    open_cup = [(i, step) for i, step in enumerate(steps[:lid]) if not step.shaker]

    def after_last(*kinds: type) -> int:
        return max((i + 1 for i, step in open_cup if isinstance(step.item, kinds)), default=0)

    if isinstance(new.item, Liquid):
        body = _body(steps)
        pulled = isinstance(new.step, AddStep) and new.step.component.shot and not new.shaker
        chills = [i for i in range(body) if pulled and steps[i].action == "chill"]
        return chills[-1] if chills else body
    if isinstance(new.item, Slice):
        return 0
    if isinstance(new.item, Bed):
        ice = next((i for i, step in open_cup if step.brings_ice), lid)
        return max((i + 1 for i, s in open_cup if isinstance(s.item, Bed) and i < ice), default=0)
    moved = max((i + 1 for i, step in open_cup if step.action in MOVES), default=0)
    if isinstance(new.item, Swimmer):
        return max(moved, after_last(Liquid, Bed, Ice, Swimmer))
    fluids = max(moved, after_last(Liquid, Bed, Ice, Cap, Swimmer))
    return fluids if isinstance(new.item, Cap) else max(fluids, after_last(Dusted))


def _build_step(step: Step, size: CupSize, cup: Cup) -> BuildStep:
    if not isinstance(step, AddStep):
        return BuildStep(
            step=step,
            action=step.action,
            strained=step.pour == "strained",
            air_share=step.air_share or 0.0,
        )
    component, written = step.component, step.amounts[size.id]
    added = BuildStep(
        step=step,
        item=_item(component),
        density=component.density_g_ml,
        temperature_c=component.poured_c,
        shaker=step.into != "cup",
        scales=_SCALES.get(component.role, ""),
        body=step.makes_room,
        tool_step=size.volumes.step_ml,
        foams=step.into == "cup" and has_head(component),
    )
    if isinstance(written, Amount):
        made = made_of(component, step.tool, size, written, swapped=step.swap is not None)
        return replace(added, amount=made.amount, tool_step=made.step, count_unit=made.one)
    line_ml = written.line_ml
    if line_ml is not None and size.volumes.in_fractions:
        line_ml = round_near(line_ml, size.volumes.step_ml)
    line = ToLine(component.density_g_ml, line_ml, written.line_mm)
    return replace(added, line_ml=line.reading_ml(cup), line_mm=written.line_mm)


_SCALES: dict[str, Literal["sweetness", "ice"]] = {"sweetener": "sweetness", "ice": "ice"}


NO_GAPS = 0.9999
"""The solid share of what leaves no gaps, as it is figured: the fill model pours into some."""


def _item(component: Component) -> Item:
    """Nothing yet of what a component is in the fill model."""
    density = component.density_g_ml
    bulk = min(component.bulk_density_g_ml or 0.0, NO_GAPS * density)
    if component.behaves == "liquid":
        return Liquid(0.0, density, component.steamed.air_share if component.steamed else 0.0)
    if component.behaves == "settled":
        return Bed(0.0, density, bulk)
    if component.behaves == "ice":
        return Ice(0.0, density, component.packing or 0.0)
    if component.behaves == "swimming":
        return Swimmer(0.0, density, bulk)
    if component.behaves == "on-wall":
        return Slice(0.0, density)
    return Cap(0.0, density, component.overrun_pct) if component.behaves == "floated" else Dusted()


class Made(NamedTuple):
    """What a tool makes of a written amount, its step and one count of it (0 where it has none):
    ml of a liquid, g of all else."""

    amount: float
    step: float
    one: float


def made_of(
    component: Component,
    tool: model.Tool | None,
    size: CupSize,
    written: Amount,
    *,
    swapped: bool = False,
) -> Made:
    """A written amount as it is made. What shows no more than its steps makes a whole number of
    them; so does what is to be as much as another tool gave, when it is ``swapped``."""
    liquid = component.behaves == "liquid"
    amount, marks = written.volume_ml if liquid else written.mass_g, marks_of(tool, size)
    step, one = _tool_units(tool, written, liquid)
    if tool is None and liquid and marks.in_fractions and amount >= marks.step_ml:
        step = marks.step_ml
    if amount > 0.0 and (marks.in_fractions or (swapped and one)):
        amount = max(step, round_near(amount, step))
    return Made(amount, step, one)


def marks_of(tool: model.Tool | None, size: CupSize) -> VolumeUnit:
    """What a volume is read off in: the marks of its tool, without one those of the shop; ml of
    what is counted or weighed."""
    if tool is None:
        return size.volumes
    return tool.marks if tool.unit == "ml" else ML


def _tool_units(tool: model.Tool | None, written: Amount, liquid: bool) -> tuple[float, float]:
    """The tool's step and one count of it, in ml for a liquid and in g for all else."""
    if tool is None:
        return 0.0, 0.0
    grams_per_ml = written.mass_g / written.volume_ml if written.volume_ml else 1.0
    ml, g = (1.0, 1.0 / grams_per_ml) if liquid else (grams_per_ml, 1.0)
    if tool.unit == "count":
        one = tool.holds_ml * ml if tool.holds_ml is not None else (tool.holds_g or 0.0) * g
        return tool.step * one, one
    return tool.step * {"ml": ml, "g": g}.get(tool.unit, 0.0), 0.0
