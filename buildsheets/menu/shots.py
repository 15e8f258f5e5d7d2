"""What a shot takes and gives, as written, goes in; the batch of one that it is comes out.

A shot is a batch pulled to order: its part is the dose of beans, its yield what runs into the cup.
Allergens, cost and caffeine follow from that; it is never planned, kept or printed by itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from buildsheets.menu.equipment import PULLS, Tool
from buildsheets.menu.ingredients import Batch, BatchPart, Ingredient
from buildsheets.menu.schema import (
    ABOVE_0,
    Entry,
    Grams,
    Ml,
    Range,
    Record,
    Seconds,
    Share,
    Text,
    key,
    maybe,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot(Record):
    """How espresso is pulled to order.

    ``yield_g`` is known once it is linked.
    """

    dose_g: Grams = key("ground coffee in the basket: 18 g", "dose", within=ABOVE_0)
    yield_g: Grams | None = maybe(
        "what runs into the cup: 36 g, on a scale, or ml read once the crema is gone",
        "yield",
        needed=True,
        within=ABOVE_0,
    )
    yield_ml: Ml | None = maybe("", "yield")
    seconds: Seconds = key("from pump on to pump off: 28 s", "for", within=ABOVE_0)
    caffeine_extracted: Share | None = maybe(
        "share of the beans' caffeine that ends in the cup: measured, or a table's",
        within=Range("from 0 to 100 %", 0.0, 1.0),
    )

    @property
    def out_g(self) -> float:
        """What runs into the cup."""
        assert self.yield_g is not None
        return self.yield_g

    def weighed(self, density_g_ml: float) -> Shot:
        """With its yield in grams."""
        return (
            self if self.yield_ml is None else replace(self, yield_g=self.yield_ml * density_g_ml)
        )

    def batch(self, of: Entry, name: Text, beans: Ingredient | Batch, density_g_ml: float) -> Batch:
        """One shot of beans, pulled for ``of``."""
        return Batch(
            span=self.span,
            id=of.id,
            name=name,
            parts=(BatchPart(span=self.span, item=beans, mass_g=self.dose_g),),
            density_g_ml=density_g_ml,
            yield_factor=self.out_g / self.dose_g,
            yield_basis="factor",
            brew=beans,
            caffeine_extracted=self.caffeine_extracted,
            to_order=True,
        )

    def tool(self, tool: Tool | None) -> Tool | None:
        """A tool as it is used for this shot: a portafilter holds what runs out of it."""
        if tool is None or tool.kind != PULLS:
            return tool
        if self.yield_ml is not None:
            return replace(tool, holds_ml=self.yield_ml)
        return replace(tool, holds_g=self.out_g)
