"""Amounts of a batch in plain numbers go in; its yield, portions, packs and bowl loads come out.

Fill model section 6; the batches of a menu are figured with the same functions. Counts forgive
binary noise: 12.000000001 portions are 12, and 3.0000000001 packs are 3.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from buildsheets.cup.errors import FigureError, each, non_negative, positive, within

_NOISE = 1e-9


def whole_below(amount: float) -> int:
    """floor, forgiving a relative 1e-9 of noise below a whole number."""
    nearest = round(amount)
    return nearest if abs(amount - nearest) <= _NOISE * max(1.0, nearest) else math.floor(amount)


def whole_above(amount: float) -> int:
    """ceil, forgiving a relative 1e-9 of noise above a whole number."""
    nearest = round(amount)
    return nearest if abs(amount - nearest) <= _NOISE * max(1.0, nearest) else math.ceil(amount)


def portions_from(amount: float, portion: float) -> tuple[int, float]:
    """(whole portions, what is left) of any amount, in its own unit."""
    non_negative("amount", amount)
    count = whole_below(amount / positive("portion", portion))
    return count, max(0.0, amount - count * portion)


def packs_for(need: float, pack: float) -> tuple[int, float]:
    """(whole packs to open, what is left over in them) for a need in the unit of the pack."""
    count = whole_above(non_negative("need", need) / positive("pack", pack))
    return count, max(0.0, count * pack - need)


def served_ml(yield_g: float, density: float, overrun_pct: float) -> float:
    """Volume as served of grams of a batch whose unaerated density (g/ml) is known."""
    return yield_g / density * (1 + overrun_pct / 100)


def before_loss_ml(yield_ml: float, overrun_pct: float, loss: float) -> tuple[float, float]:
    """(before whipping, whipped) ml of a batch of which ``yield_ml`` is served; loss below 1."""
    whipped = yield_ml / (1 - loss)
    return whipped / (1 + overrun_pct / 100), whipped


@dataclass(frozen=True, slots=True)
class BatchIngredient:
    """``mass_g`` of an ingredient of ``density`` g/ml, bought in packs of ``pack_g`` if known."""

    name: str
    mass_g: float
    density: float
    pack_g: float | None = None

    def __post_init__(self) -> None:
        non_negative(f"{self.name}.mass_g", self.mass_g)
        positive(f"{self.name}.density", self.density)
        each(positive, **{f"{self.name}.pack_g": self.pack_g})

    @classmethod
    def by_volume(
        cls, name: str, volume_ml: float, density: float, pack_g: float | None = None
    ) -> "BatchIngredient":
        """An ingredient measured in ml."""
        mass = non_negative(f"{name}.volume_ml", volume_ml) * positive(f"{name}.density", density)
        return cls(name, mass, density, pack_g)

    @classmethod
    def by_packs(cls, name: str, packs: float, pack_g: float, density: float) -> "BatchIngredient":
        """An ingredient that goes in by the pack."""
        mass = non_negative(f"{name}.packs", packs) * positive(f"{name}.pack_g", pack_g)
        return cls(name, mass, density, pack_g)


@dataclass(frozen=True, slots=True)
class BatchYield:
    """One batch at scale 1: volumes in ml before and after whipping and loss, and its portions."""

    mass_g: float
    unaerated_ml: float
    whipped_ml: float
    yield_ml: float
    portion_ml: float
    portions: int
    leftover_ml: float
    foam_density: float
    portion_g: float

    def scale_for(self, portions: float) -> float:
        """f = N n / yield: how many batches make N portions."""
        return non_negative("portions", portions) * self.portion_ml / self.yield_ml

    def portions_at(self, scale: float) -> int:
        """Whole portions of ``scale`` batches."""
        return whole_below(non_negative("scale", scale) * self.yield_ml / self.portion_ml)


def batch_yield(
    ingredients: Iterable[BatchIngredient],
    *,
    portion_ml: float,
    overrun_pct: float = 0.0,
    loss: float = 0.0,
) -> BatchYield:
    """Yield of a batch: ``loss`` is the share (0 to below 1) that stays in bowl and piping bag."""
    listed = tuple(ingredients)
    positive("portion_ml", portion_ml)
    non_negative("overrun_pct", overrun_pct)
    if non_negative("loss", loss) >= 1:
        raise FigureError("loss", loss, "must be below 1")
    mass = math.fsum(ingredient.mass_g for ingredient in listed)
    if mass <= 0:
        raise FigureError("ingredients", mass, "the batch has no mass")
    density = mass / math.fsum(ingredient.mass_g / ingredient.density for ingredient in listed)
    served = served_ml(mass * (1 - loss), density, overrun_pct)
    unaerated, whipped = before_loss_ml(served, overrun_pct, loss)
    portions, leftover = portions_from(served, portion_ml)
    foam, sizes = mass / whipped, (mass, unaerated, whipped, served)
    return BatchYield(*sizes, portion_ml, portions, leftover, foam, foam * portion_ml)


@dataclass(frozen=True, slots=True)
class Packs:
    """Whole packs of one ingredient: what is needed, opened and left over (g)."""

    name: str
    need_g: float
    packs: int
    leftover_g: float


def packs_needed(ingredients: Iterable[BatchIngredient], scale: float = 1.0) -> tuple[Packs, ...]:
    """Packs to open for ``scale`` batches, of every ingredient whose pack is known."""
    non_negative("scale", scale)
    needs = ((one.name, scale * one.mass_g, one.pack_g) for one in ingredients)
    return tuple(
        Packs(name, need_g, *packs_for(need_g, pack_g))
        for name, need_g, pack_g in needs
        if pack_g is not None
    )


@dataclass(frozen=True, slots=True)
class PackScale:
    """A batch rounded up so that the lead ingredient goes in by whole packs."""

    scale: float
    lead_packs: int
    portions: int
    packs: tuple[Packs, ...]


def whole_packs_of(
    lead: str, ingredients: Iterable[BatchIngredient], batch: BatchYield, scale: float = 1.0
) -> PackScale:
    """Round ``scale`` up until the ingredient named ``lead`` takes whole packs.

    f' = packs x pack / need; portions and the packs of the others follow f'.
    """
    listed = tuple(ingredients)
    found = next((one for one in listed if one.name == lead), None)
    if found is None or found.pack_g is None or found.mass_g <= 0:
        raise FigureError("lead", lead, "must be an ingredient with an amount and a pack size")
    rounded, packs = scale_to_packs(non_negative("scale", scale), found.mass_g, found.pack_g)
    return PackScale(rounded, packs, batch.portions_at(rounded), packs_needed(listed, rounded))


def scale_to_packs(scale: float, need: float, pack: float) -> tuple[float, int]:
    """``scale`` taken up to whole packs of what takes ``need`` at scale 1, and their number."""
    packs, _ = packs_for(scale * need, pack)
    return packs * pack / need, packs


@dataclass(frozen=True, slots=True)
class BowlLoads:
    """How the whipped batch meets the bowl."""

    usable_ml: float
    whipped_ml: float
    fits: bool
    loads: int
    largest_scale: float


def bowl_loads(
    whipped_ml: float, *, bowl_ml: float, fill: float = 1.0, scale: float = 1.0
) -> BowlLoads:
    """Loads of a bowl filled to the share ``fill`` for ``scale`` batches of ``whipped_ml``.

    The bowl must hold the WHIPPED volume: loads = ceil(whipped x scale / (bowl x fill)).
    """
    positive("whipped_ml", whipped_ml)
    positive("bowl_ml", bowl_ml)
    positive("fill", within("fill", fill, 0.0, 1.0))
    usable = bowl_ml * fill
    volume = whipped_ml * non_negative("scale", scale)
    loads = whole_above(volume / usable)
    return BowlLoads(usable, volume, loads <= 1, loads, usable / whipped_ml)
