"""A menu and a batch at a scale go in; every figure its card shows comes out, worked out once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from buildsheets.cup.allergens import AllergenReport, allergen_report
from buildsheets.cup.serving import Serving
from buildsheets.menu.model import Batch, Menu
from buildsheets.prep import batches, keeping
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
    figure: batches.BatchFigure
    heap_g_ml: float | None  # where it is stored and scooped as a heap
    scales: Mapping[str, batches.BatchFigure]
    bowl: BowlLoads | None
    portions: tuple[batches.Portion, ...]
    brew_ratio: float | None
    brix: float | None
    allergens: AllergenReport
    band: str
    kept_at_c: float | None
    time_control_h: float | None
    outlived: tuple[tuple[batches.Item, ...], ...]
    cooling: tuple[keeping.CoolingStep, ...]
    hot: keeping.HotHolding | None

    def gives(self, figure: batches.BatchFigure) -> batches.Stored:
        """What the batch yields at a scale, as it is stored."""
        return batches.Stored(figure.yield_g, figure.yield_ml, self.heap_g_ml)


def batch_figures(
    menu: Menu,
    batch: Batch,
    factor: float,
    poured: batches.Poured,
    rounding: batches.Rounding = "nearest",
) -> BatchFigures:
    """Everything figured about a batch made at ``factor``."""
    shop, step_g, figured = menu.shop, batches.scale_step_g(menu), batches.figure_batch
    figure = figured(batch, factor, step_g, rounding)
    return BatchFigures(
        batch=batch,
        figure=figure,
        heap_g_ml=batches.heap_g_ml(menu.components.values(), batch),
        scales={name: figured(batch, share, step_g) for name, share in batch.scales.items()},
        bowl=batches.bowl_check(figure),
        portions=batches.portions(menu, figure, poured),
        brew_ratio=batches.brew_ratio(batch),
        brix=brix_of(batch),
        allergens=allergen_report(batch),
        band=keeping.band_of(shop, keeping.kept_at_c(shop, batch)),
        kept_at_c=keeping.kept_at_c(shop, batch),
        time_control_h=keeping.time_control_h(shop, batch),
        outlived=keeping.outlived(batch),
        cooling=keeping.cooling_steps(shop, batch),
        hot=keeping.hot_holding(shop, batch),
    )


def every_batch(menu: Menu, poured: batches.Poured) -> tuple[tuple[str, BatchFigures], ...]:
    """Every batch at every scale it is made at, under the name of the scale."""
    return tuple(
        (scale, batch_figures(menu, batch, factor, poured))
        for batch in menu.batches.values()
        for scale, factor in batch.scales.items()
    )


def poured_grams(servings: Iterable[Serving]) -> dict[tuple[str, str, str], float]:
    """Grams of each component poured into each drink and cup, from its first serving; of what only
    goes in with a swap, from the one with it."""
    first = {(serving.drink.id, serving.cup.id): serving for serving in reversed([*servings])}
    found: dict[tuple[str, str, str], float] = defaultdict(float)
    for (drink, cup), serving in first.items():
        for used in serving.used:
            found[drink, cup, used.component.id] += used.mass_g
        usual = {used.component.id for used in serving.used}
        for other in serving.choices.swapped:
            new = {swap.component.id for swap in other.drink.swapped} - usual
            usual |= new
            for used in other.used:
                if used.component.id in new:
                    found[drink, cup, used.component.id] += used.mass_g
    return dict(found)
