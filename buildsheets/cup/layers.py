"""The steps of a drink as figured go in; the liquids that stand on each other in it come out.

The fill model mixes all liquid of a cup, but of a drink that says it is ``layered``; here is told
what of it can be seen to stay apart. Assumed: a liquid stays on one that is heavier by more than
``APART_G_ML`` until something is stirred, swirled or chilled; poured onto a lighter one it falls
into it and they mix; what comes from a shaker or a blender is one liquid. A gentle hand does about
that, a fast pour mixes more. Volumes are those of the fill model, melt water included, and none of
its levels changes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from buildsheets.cup.strata import APART_G_ML, STIRS
from buildsheets.menu.model import EMPTIES, AddStep, Component

if TYPE_CHECKING:
    from buildsheets.cup.fill import FillState
    from buildsheets.cup.serving import StepFigure


@dataclass(frozen=True, slots=True)
class Standing:
    """A liquid as it stands in the cup: what it is made of, and where its top reads."""

    components: tuple[Component, ...]  # in the order they came
    volume_ml: float
    mass_g: float
    top_ml: float = 0.0

    @property
    def density_g_ml(self) -> float:
        """Of all that is in it."""
        return self.mass_g / self.volume_ml


def liquids(steps: Sequence[StepFigure]) -> tuple[Standing, ...]:
    """What stands on what after the last step, the heaviest lowest."""
    found: list[Standing] = []
    shaken: list[Component] = []
    held_ml = held_g = 0.0
    for figure in steps:
        step, now = figure.step, figure.state.contents
        came_ml, came_g = now.liquid_ml - held_ml, now.liquid_g - held_g
        held_ml, held_g = now.liquid_ml, now.liquid_g
        if isinstance(step, AddStep):
            if step.into != "cup":
                shaken += [step.component] if step.component.behaves != "ice" else []
            elif came_ml > 0.0:
                _pour(found, Standing((step.component,), came_ml, came_g))
        elif step.action in EMPTIES and came_ml > 0.0:
            _pour(found, _mixed([Standing(tuple(shaken), came_ml, came_g)]))
            shaken = []
        elif step.action in STIRS and found:
            found = [replace(_mixed(found), volume_ml=held_ml, mass_g=held_g)]
    return tuple(_with_tops(found, steps[-1].state))


def _pour(standing: list[Standing], new: Standing) -> None:
    """Put a liquid on what stands in the cup, the heaviest lowest."""
    while standing and standing[-1].density_g_ml - new.density_g_ml <= APART_G_ML:
        new = _mixed([standing.pop(), new])
    standing.append(new)


def _mixed(parts: Sequence[Standing]) -> Standing:
    """Liquids as one."""
    components = {one.id: one for part in parts for one in part.components}
    volume_ml, mass_g = sum(part.volume_ml for part in parts), sum(part.mass_g for part in parts)
    return Standing(tuple(components.values()), volume_ml, mass_g)


def _with_tops(standing: Sequence[Standing], state: FillState) -> list[Standing]:
    """Each liquid with where its top reads: the gaps of beds and of ice hold their share of it."""
    held = state.contents
    spaces = [(bed.bulk_ml, bed.void) for bed in held.beds]
    if state.ice_bottom_ml is not None and state.ice_top_ml is not None:
        gaps = 1 - held.afloat_solid_ml / held.afloat_ml
        spaces.append((state.ice_bottom_ml - state.bed_top_ml, 1.0))
        spaces.append((state.ice_top_ml - state.ice_bottom_ml, gaps))
    spaces.append((math.inf, 1.0))
    found, below_ml = [], 0.0
    for one in standing:
        below_ml += one.volume_ml
        reading, left = 0.0, below_ml
        for bulk_ml, gap in spaces:
            if left <= bulk_ml * gap:
                reading += left / gap
                break
            reading, left = reading + bulk_ml, left - bulk_ml * gap
        found.append(replace(one, top_ml=min(reading, state.liquid_level_ml)))
    return found
