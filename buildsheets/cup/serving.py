"""One drink in one cup with one choice of options, figured: the types every later stage reads."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.cup.chill import Chilled
from buildsheets.cup.fill import FillState
from buildsheets.menu.model import AddOn, Component, CupSize, Drink, Step


@dataclass(frozen=True, slots=True)
class Choice:
    """What a guest chose: sweetness share, ice level id, add-on ids in menu order."""

    sweetness: float | None
    ice: str | None
    add_ons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Used:
    """What one step really took: true material in g and ml (a cap's ml aerated, a bed's bulk).

    ``count`` is tool counts after rounding to the tool's step, ``None`` for a poured line.
    ``written_g`` is the amount before rounding, so the rounding error is ``mass_g - written_g``.
    """

    component: Component
    mass_g: float
    volume_ml: float
    count: float | None
    written_g: float
    to_line_ml: float | None = None  # water reading of the line poured to
    to_line_mm: float | None = None
    already_over_ml: float = 0.0  # the line was under the level already


@dataclass(frozen=True, slots=True)
class StepFigure:
    """A step with what it used and the cup after it.

    ``state`` is ``None`` while nothing is in the cup. ``shaker_ml`` is what the shaker holds.
    """

    number: int
    step: Step
    add_on: AddOn | None
    used: Used | None
    state: FillState | None
    shaker_ml: float
    chilled: Chilled | None


@dataclass(frozen=True, slots=True)
class Serving:
    """A drink x cup x choice, figured through.

    ``held_back_ml`` is base left out so that it fits; ``verdict`` is "fits", "lid-pressed"
    (fits once a flat lid presses the ice) or "too-much" with ``over_ml``. ``worst_step`` is the
    number of the step whose contents stood highest over the working capacity.
    """

    drink: Drink
    cup: CupSize
    choice: Choice
    steps: tuple[StepFigure, ...]
    final: FillState
    working_ml: float
    held_back_ml: float
    verdict: str
    over_ml: float
    worst_step: int

    @property
    def used(self) -> tuple[Used, ...]:
        """Everything that went in, in order."""
        return tuple(figure.used for figure in self.steps if figure.used is not None)
