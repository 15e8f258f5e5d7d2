"""Figures of the prep room go in; tables for a spreadsheet come out.

As RFC 4180 has it, with a decimal point and nothing where a figure is unknown. A column's head ends
with its unit, or the currency of its money.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from buildsheets.prep.buying import Order, Purchase
from buildsheets.prep.cost import DrinkCost
from buildsheets.prep.nutrition import Facts


def orders_csv(orders: Iterable[Order], enough: Iterable[Purchase], currency: str) -> str:
    """Orders for a spreadsheet, and what is on hand in full with 0 packs."""
    out = io.StringIO()
    writer = csv.writer(out)
    of_item = ("supplier", "ingredient", "needed", "on_hand", "unit", "packs", "pack_holds")
    writer.writerow([*of_item, _money("cost", currency), "counted_at"])
    for one in (*(line for order in orders for line in order.lines), *enough):
        packs, have, item = one.packs, one.have, one.ingredient
        need, unit = (one.need, "g") if packs is None else (packs.need, packs.unit)
        unit = unit if one.pieces is None else "piece"
        writer.writerow(
            [
                item.supplier,
                item.id,
                f"{need:.1f}",
                None if have is None else f"{have.usable:.1f}",
                unit,
                None if packs is None else packs.count,
                None if packs is None else f"{packs.pack:g}",
                one.cost,
                None if have is None else have.counted_at.isoformat(timespec="minutes"),
            ]
        )
    return out.getvalue()


_NUTRIENTS = ("energy_kcal", "sugars_g", "caffeine_mg")


def cost_csv(costs: Sequence[tuple[DrinkCost, Facts]], currency: str) -> str:
    """Costs for a spreadsheet."""
    out = io.StringIO()
    writer = csv.writer(out)
    of_order = ("drink", "cup", "sweetness_share", "ice", "add_ons", "swaps")
    money = ("packaging", "cost", "price", "net_price", "margin")
    heads = [_money(name, currency) for name in money]
    writer.writerow([*of_order, *heads, "margin_share", "missing_prices", *_NUTRIENTS])
    for one, facts in costs:
        choice, share = one.serving.choice, one.margin_share
        amounts = (facts[name].value for name in _NUTRIENTS)
        writer.writerow(  # csv writes None as nothing
            [
                one.serving.drink.id,
                one.serving.cup.id,
                None if choice.sweetness is None else f"{choice.sweetness:g}",
                choice.ice,
                " ".join(choice.add_ons),
                " ".join(choice.swaps),
                one.packaging.rounded,
                one.cost.rounded,
                one.price,
                one.net_price,
                one.margin,
                None if share is None else f"{float(share):.4f}",
                " ".join(one.missing_prices),
                *(None if value is None else f"{value:.1f}" for value in amounts),
            ]
        )
    return out.getvalue()


def _money(name: str, currency: str) -> str:
    return f"{name}_{currency}" if currency else name
