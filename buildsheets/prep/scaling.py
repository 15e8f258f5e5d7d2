"""A batch and a wish go in (portions, packs, containers, what is in stock); a factor comes out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from buildsheets.cup.errors import FigureError, positive
from buildsheets.menu.model import Batch
from buildsheets.prep.batches import (
    BatchFigure,
    Item,
    PackNeed,
    Portion,
    Rounding,
    Stored,
    figure_batch,
    pack_grams,
    pack_need,
)
from buildsheets.prep.yields import packs_for, scale_to_packs, whole_below


@dataclass(frozen=True, slots=True)
class Scaling:
    """A factor and why it is this one: the wish and what set the limit."""

    factor: float
    wish: str  # "factor", "portions", "packs", "containers", "stock"
    limited_by: Item | None = None

    @property
    def rounding(self) -> Rounding:
        """How weights are taken to the scale: never less than was asked, never more than there
        is."""
        ways: dict[str, Rounding] = {"portions": "up", "stock": "down"}
        return ways.get(self.wish, "nearest")


def for_factor(factor: float) -> Scaling:
    """The factor itself."""
    return Scaling(positive("factor", factor), "factor")


def for_portions(batch: Batch, wanted: Sequence[tuple[Portion, int]]) -> Scaling:
    """The factor that yields the portions wanted, sizes mixed as given, in whole lead packs."""
    full, need = figure_batch(batch), 0.0
    for portion, number in wanted:
        need += number * _known(batch, full.share_of(portion.mass_g, portion.volume_ml))
    positive("portions wanted", need)
    if batch.lead is not None and (grams := pack_grams(batch.lead)) is not None:
        whole, _ = scale_to_packs(need, _need(batch, batch.lead), grams)
        return Scaling(whole, "portions", batch.lead)
    return Scaling(need, "portions")


def for_packs(batch: Batch, packs: float) -> Scaling:
    """As much as ``packs`` packs of the batch's lead make."""
    lead = batch.lead
    if lead is None:
        raise FigureError(batch.id, None, "names no lead ingredient; add lead: to it")
    grams = pack_grams(lead)
    if grams is None:
        raise FigureError(lead.id, None, "has no pack, or no density to weigh a pack given in ml")
    return Scaling(positive("packs", packs) * grams / _need(batch, lead), "packs", lead)


def to_scales(batch: Batch, factor: float) -> Scaling:
    """``factor`` taken up to what the shop makes: whole lead packs, else its smallest scale.

    A shop that makes full, half and quarter batches makes 1.6 as 1.75; one without named scales
    makes the factor itself.
    """
    if batch.lead is not None and (grams := pack_grams(batch.lead)) is not None:
        whole, _ = scale_to_packs(factor, _need(batch, batch.lead), grams)
        return Scaling(whole, "packs", batch.lead)
    smallest = min(batch.scales.values(), default=0.0)
    if smallest <= 0:
        return for_factor(factor)
    return Scaling(packs_for(factor, smallest)[0] * smallest, "factor")


def for_containers(
    batch: Batch, count: int, container_ml: float, heap: float | None = None
) -> Scaling:
    """As much as fills ``count`` containers of ``container_ml``, as served: air included, and the
    gaps of a heap of ``heap`` g/ml."""
    wanted, full = positive("containers", count), figure_batch(batch)
    wanted *= positive("container", container_ml)
    each = _known(batch, Stored(full.yield_g, full.yield_ml, heap).room_ml)
    return Scaling(wanted / each, "containers")


def for_stock(batch: Batch, have_g: Mapping[str, float], step_g: float = 1.0) -> Scaling:
    """The largest factor the grams in stock allow, in whole lead packs and in weights that the
    scale of ``step_g`` shows, and the ingredient that runs short first.

    Items not named in ``have_g`` are taken to be plenty. An item used twice counts once, in sum.
    """
    if not have_g:
        raise FigureError("stock", None, "name at least one ingredient")
    items, limits = {part.item.id: part.item for part in batch.parts}, {}
    for id_, grams in have_g.items():
        if id_ not in items:
            raise FigureError(id_, grams, f"is not part of {batch.id}")
        limits[id_] = positive(f"stock of {id_}", grams) / _need(batch, items[id_])
    short = min(limits, key=lambda id_: limits[id_])
    factor = limits[short]
    if batch.lead is not None and (pack_g := pack_grams(batch.lead)) is not None:
        each = pack_g / _need(batch, batch.lead)
        if (packs := whole_below(factor / each)) == 0:
            least = f"one pack of {batch.lead.id} wants {_need(batch, items[short]) * each:.0f} g"
            raise FigureError(f"stock of {short}", have_g[short], least)
        factor = packs * each
    weights = figure_batch(batch, factor, step_g, "down").parts
    for id_, grams in have_g.items():
        weighed = sum(part.weigh_g for part in weights if part.part.item.id == id_)
        if whole_below(weighed / step_g) > whole_below(grams / step_g):
            least = f"{batch.id} wants less of it than the scale shows ({step_g:g} g)"
            raise FigureError(f"stock of {id_}", grams, least)
    return Scaling(factor, "stock", items[short])


def containers(
    figure: BatchFigure, container_ml: float, heap: float | None = None
) -> tuple[int, float]:
    """How many containers of ``container_ml`` hold the yield as served, and ml in the last one; of
    a heap of ``heap`` g/ml with its gaps."""
    total = _known(figure.batch, Stored(figure.yield_g, figure.yield_ml, heap).room_ml)
    count, room = packs_for(total, positive("container", container_ml))
    return count, container_ml - room


class Packs(NamedTuple):
    """Whole packs to open."""

    item: Item
    need: PackNeed


def purchase(figure: BatchFigure) -> tuple[Packs, ...]:
    """Whole packs to open for each ingredient at this factor; an item used twice is summed."""
    items = {part.part.item.id: part.part.item for part in figure.parts}
    needs = dict.fromkeys(items, 0.0)
    for part in figure.parts:
        needs[part.part.item.id] += part.exact_g
    found = ((item, pack_need(item, needs[id_])) for id_, item in items.items())
    return tuple(Packs(item, packs) for item, packs in found if packs is not None)


def _need(batch: Batch, item: Item) -> float:
    grams = sum(part.mass_g for part in batch.parts if part.item.id == item.id)
    if grams <= 0:
        raise FigureError(item.id, grams, f"is not part of {batch.id}")
    return grams


def _known(batch: Batch, value: float | None) -> float:
    if value is None or value <= 0:
        raise FigureError(batch.id, value, "its yield is not known: a density is missing")
    return value
