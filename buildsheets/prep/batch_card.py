"""A menu and a batch at a scale go in; every figure its card shows comes out, worked out once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from buildsheets.cup.allergens import AllergenReport, allergen_report
from buildsheets.cup.serving import Serving
from buildsheets.menu.model import Batch, Menu
from buildsheets.prep.batches import (
    BatchFigure,
    Item,
    Portion,
    Poured,
    bowl_check,
    brew_ratio,
    figure_batch,
    portions,
    scale_step_g,
)
from buildsheets.prep.keeping import (
    CoolingStep,
    cooling_steps,
    kept_at_c,
    outlived,
    temperature_band,
    time_control_h,
)
from buildsheets.prep.nutrition import brix_of
from buildsheets.prep.yields import BowlLoads


@dataclass(frozen=True, slots=True)
class BatchFigures:
    """A batch at one factor, and at each of its named scales, with all that hangs on them.

    How it is kept whenever it is made: ``band`` is "cold", "hot" or "between"; ``kept_at_c`` is
    ``None`` where it may stand; ``time_control_h`` where time alone limits it; ``outlived`` are the
    paths to what ends sooner.
    """

    batch: Batch
    figure: BatchFigure
    scales: Mapping[str, BatchFigure]
    bowl: BowlLoads | None
    portions: tuple[Portion, ...]
    brew_ratio: float | None
    brix: float | None
    allergens: AllergenReport
    band: str
    kept_at_c: float | None
    time_control_h: float | None
    outlived: tuple[tuple[Item, ...], ...]
    cooling: tuple[CoolingStep, ...]


def batch_figures(menu: Menu, batch: Batch, factor: float, poured: Poured) -> BatchFigures:
    """Everything figured about a batch made at ``factor``."""
    shop, step_g = menu.shop, scale_step_g(menu)
    figure = figure_batch(batch, factor, step_g)
    return BatchFigures(
        batch=batch,
        figure=figure,
        scales={name: figure_batch(batch, share, step_g) for name, share in batch.scales.items()},
        bowl=bowl_check(figure),
        portions=portions(menu, figure, poured),
        brew_ratio=brew_ratio(batch),
        brix=brix_of(batch),
        allergens=allergen_report(batch),
        band=temperature_band(shop, None if batch.keeps_for is None else batch.keeps_for.at_c),
        kept_at_c=kept_at_c(shop, batch),
        time_control_h=time_control_h(shop, batch),
        outlived=outlived(batch),
        cooling=cooling_steps(shop, batch),
    )


def every_batch(menu: Menu, poured: Poured) -> tuple[tuple[str, BatchFigures], ...]:
    """Every batch at every scale it is made at, under the name of the scale."""
    return tuple(
        (scale, batch_figures(menu, batch, factor, poured))
        for batch in menu.batches.values()
        for scale, factor in batch.scales.items()
    )


def poured_grams(servings: Iterable[Serving]) -> dict[tuple[str, str, str], float]:
    """Grams of each component poured into each drink and cup, from its first serving."""
    first: dict[tuple[str, str], Serving] = {}
    for serving in servings:
        first.setdefault((serving.drink.id, serving.cup.id), serving)
    found: dict[tuple[str, str, str], float] = {}
    for place, serving in first.items():
        for used in serving.used:
            key = (*place, used.component.id)
            found[key] = found.get(key, 0.0) + used.mass_g
    return found
