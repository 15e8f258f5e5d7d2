"""Ops and what came of them go in; the fill model's own items after each op come out."""

from __future__ import annotations

from collections.abc import Sequence

from buildsheets.cup.contents import Bed, Cap, Dusted, Ice, Item, Liquid
from buildsheets.cup.plan import Op
from buildsheets.cup.simulate import After


def items_after(ops: Sequence[Op], after: Sequence[After]) -> list[tuple[Item, ...]]:
    """The items in the cup after each op: a shake or a chill replaces liquid and ice by what is
    left of them; beds and caps stay as they were put in."""
    found: list[tuple[Item, ...]] = []
    items: tuple[Item, ...] = ()
    for op, now in zip(ops, after, strict=True):
        if not op.shaker:
            items = _next(items, op, now)
        found.append(items)
    return found


def _next(items: tuple[Item, ...], op: Op, now: After) -> tuple[Item, ...]:
    if op.kind == "liquid":
        return (*items, Liquid(now.amount, op.density))
    if op.kind == "bed":
        return (*items, Bed(now.amount, op.density, op.extra))
    if op.kind == "ice":
        return (*items, Ice(now.amount, op.density, op.extra))
    if op.kind == "cap":
        return (*items, Cap(now.amount, op.density, op.extra))
    if op.kind == "dust":
        return (*items, Dusted(now.amount))
    if op.kind in ("shake", "pour", "chill"):
        kept: list[Item] = [item for item in items if not isinstance(item, Liquid | Ice)]
        cup = now.cup
        if cup.liquid_ml > 0.0:
            kept.append(Liquid(cup.liquid_ml, cup.liquid_g / cup.liquid_ml))
        if cup.ice_g > 0.0:
            kept.append(
                Ice(cup.ice_g, cup.ice_g / cup.ice_solid_ml, cup.ice_solid_ml / cup.ice_bulk_ml)
            )
        return tuple(kept)
    return items
