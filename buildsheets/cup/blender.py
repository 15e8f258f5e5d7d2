"""The steps of a drink and what is in its vessels after each go in; how full its blender gets comes
out.

Before it runs the ice is a heap, with the liquid in its gaps and over it; after it all is one
liquid with air in it. Either may be the fullest.
"""

from __future__ import annotations

from collections.abc import Sequence

from buildsheets.cup.contents import levels
from buildsheets.cup.cup import FIT_TOLERANCE_ML
from buildsheets.cup.holdback import most_within, round_down
from buildsheets.cup.simulate import START, After, run
from buildsheets.cup.steps import Build, BuildStep
from buildsheets.menu.model import AddStep


def heaped_ml(steps: Sequence[BuildStep], after: Sequence[After]) -> float:
    """What a blender reads before it runs, at the most; 0 without one."""
    return max((levels(now.shaker).top for step, now in zip(steps, after, strict=True)
                if _into_blender(step)), default=0.0)  # fmt: skip


def blended_ml(steps: Sequence[BuildStep], after: Sequence[After]) -> float:
    """What a blender reads when it has run; 0 without one."""
    before = [START, *after]
    poured = (
        now.cup.liquid_ml - then.cup.liquid_ml
        for step, then, now in zip(steps, before, after, strict=False)
        if step.action == "blend"
    )
    return max(poured, default=0.0)


def in_blender_ml(steps: Sequence[BuildStep], after: Sequence[After]) -> float:
    """What a blender reads at its fullest; 0 without one."""
    return max(heaped_ml(steps, after), blended_ml(steps, after))


def holds_ml(build: Build) -> float:
    """What the blender of a drink may hold, the smallest of several; 0 without one."""
    stations = (s.step.station for s in build.steps if s.action == "blend")
    return min((at.blender_ml for at in stations if at and at.blender_ml), default=0.0)


def most_base_ml(build: Build, after: Sequence[After]) -> float:
    """The most base with which a drink fits its blender, as its tool measures it; 0 if none does,
    or if its base goes into the cup."""
    base, steps = build.steps[build.body], build.steps
    if not _into_blender(base):
        return 0.0
    amounts: list[float | None] = [now.amount for now in after]
    whole = after[build.body].amount

    def over(ml: float) -> float:
        amounts[build.body] = ml
        return in_blender_ml(steps, run(steps, amounts)) - holds_ml(build)

    most = round_down(most_within(over, 0.0, whole) or 0.0, base.tool_step)
    return most if over(most) <= FIT_TOLERANCE_ML else 0.0


def _into_blender(step: BuildStep) -> bool:
    return isinstance(step.step, AddStep) and step.step.into == "blender"
