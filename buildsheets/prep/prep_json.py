"""Figures of batches and costs go in; plain data for JSON, unrounded, comes out."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import Menu
from buildsheets.prep.batches import BatchFigure, bowl_check, portions
from buildsheets.prep.costing import DrinkCost
from buildsheets.prep.scaling import Scaling, containers, purchase


def batch_json(
    menu: Menu,
    figure: BatchFigure,
    scaling: Scaling,
    poured: Mapping[tuple[str, str, str], float],
    container_ml: float | None = None,
) -> dict[str, Any]:
    """A scaled batch: parts, packs, yield, loss, bowl, containers and portions, unrounded."""
    bowl = bowl_check(figure)
    held = containers(figure, container_ml) if container_ml else None
    return {
        "batch": figure.batch.id,
        "factor": figure.factor,
        "wish": scaling.wish,
        "limited_by": None if scaling.limited_by is None else scaling.limited_by.id,
        "parts": [
            {
                "item": part.part.item.id,
                "exact_g": part.exact_g,
                "weigh_g": part.weigh_g,
                "volume_ml": part.volume_ml,
                "share": part.share,
            }
            for part in figure.parts
        ],
        "packs": [
            {
                "item": item.id,
                "count": packs.count,
                "unit": packs.unit,
                "left_over": packs.left_over,
            }
            for item, packs in purchase(figure)
        ],
        "parts_g": figure.parts_g,
        "yield_g": figure.yield_g,
        "yield_ml": figure.yield_ml,
        "whipped_ml": figure.whipped_ml,
        "loss_g": figure.loss_g,
        "basis": figure.basis,
        "missing_densities": [item.id for item in figure.missing],
        "bowl": None
        if bowl is None
        else {
            "room_ml": bowl.room_ml,
            "loads": bowl.loads,
            "largest_factor": bowl.largest_factor,
        },
        "containers": None if held is None else {"count": held.count, "last_ml": held.last_ml},
        "portions": [
            {
                "component": one.component.id,
                "cup": one.cup.id,
                "mass_g": one.mass_g,
                "count": one.count,
                "left_over_g": one.left_over_g,
            }
            for one in portions(menu, figure, poured)
        ],
    }


def serving_json(serving: Serving) -> dict[str, Any]:
    """Which drink, cup and choice."""
    choice = serving.choice
    return {
        "drink": serving.drink.id,
        "cup": serving.cup.id,
        "sweetness": choice.sweetness,
        "ice": choice.ice,
        "add_ons": list(choice.add_ons),
    }


def cost_json(one: DrinkCost) -> dict[str, Any]:
    """A serving's cost, price and margin; money as text, ``null`` where a price is missing."""
    share = one.margin_share
    return {
        **serving_json(one.serving),
        "cost": _text(one.cost.shown),
        "price": _text(one.price),
        "margin": _text(one.margin),
        "margin_share": None if share is None else float(share),
        "missing_prices": [*one.cost.missing, *one.price_missing],
        "parts": [
            {"component": p.component.id, "mass_g": p.mass_g, "cost": _text(p.cost.shown)}
            for p in one.parts
        ],
    }


def _text(value: Decimal | None) -> str | None:
    return None if value is None else str(value)
