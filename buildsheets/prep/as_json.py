"""Figures of the prep room go in; the same as plain data for other programs, unrounded, comes out.

Keys are the names of the fields. Entries of the menu stand as their ids, money as text, moments in
ISO 8601 with their offset; what is not known is ``null``.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction
from operator import attrgetter
from typing import Any

from buildsheets.cup.allergens import AllergenReport, names_of
from buildsheets.cup.serving import Serving
from buildsheets.menu.model import Batch
from buildsheets.menu.when import clock
from buildsheets.prep.batch_card import BatchFigures
from buildsheets.prep.batches import Stored
from buildsheets.prep.buying import Order, Purchase
from buildsheets.prep.cost import DrinkCost
from buildsheets.prep.dayplan import Change, DayPlan
from buildsheets.prep.keeping import Keeping
from buildsheets.prep.makings import Load, Making
from buildsheets.prep.nutrition import Facts, Figure
from buildsheets.prep.scaling import Scaling, containers, purchase
from buildsheets.prep.stock import Stock

Data = dict[str, Any]


def plain(value: Any) -> Any:
    """A value as JSON can hold it."""
    if value is None or isinstance(value, str | int | float):
        return value
    if isinstance(value, Iterable):
        return [plain(one) for one in value]
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, Fraction):
        return float(value)
    return value.isoformat() if isinstance(value, date) else value.id


def fields_of(value: object, names: str) -> Data:
    """The named fields of a value, ``key=field`` under another key; ``None`` without a value."""
    keys = {key: field or key for key, _, field in (name.partition("=") for name in names.split())}
    if value is None:
        return dict.fromkeys(keys)
    return {key: plain(attrgetter(field)(value)) for key, field in keys.items()}


def plan_json(
    plan: DayPlan,
    language: str,
    needs: Sequence[Purchase] = (),
    helps: Iterable[Change] = (),
    on_hand: Stock | None = None,
) -> Data:
    """A day's plan; amounts in g and ml (of a heap, heap ml), times as clock times, of loads and
    steps also in minutes of the day. ``needs`` are its purchases less what is on hand, ``helps``
    the changes after which it can be done; ``on_hand`` says what of the counts is left out."""
    loads = [load for load in plan.loads if not load.in_time]
    return {
        "day": plan.day.id,
        "on": plain(plan.on),
        "opens": clock(plan.opens_min)[0],
        "closes": clock(plan.closes_min)[0],
        "components": [
            fields_of(need, "component mass_g volume_ml servings") for need in plan.components
        ],
        "runs": [_making_json(making, plan.gives(making), language) for making in plan.makings],
        "loads": [
            _load_json(load, language) for load in sorted(plan.loads, key=attrgetter("order"))
        ],
        "not_in_time": [
            {
                **fields_of(load, "batch number needed_min=from_min late_min"),
                "waits_for": [thing or "hands" for thing in load.waits_for],
            }
            for load in loads
        ],
        "helps": [fields_of(one, "people earlier_min things evening_min") for one in helps],
        "most_hands": dict(zip(("busy", "there", "at_min"), plan.most_hands, strict=True)),
        "people_written": bool(plan.day.people),
        "ice_g": plan.ice_g,
        "purchases": [_purchase_json(one) for one in (needs or plan.purchases)],
        "par": [
            {
                **fields_of(one, "batch day_batches=share from_stock_batches=from_stock"),
                "ready_batches": one.ready(plan.opens_min),
                **_stored("ready", plan.stored(one, one.ready(plan.opens_min))),
            }
            for one in plan.batches
        ],
        "left_over": [
            fields_of(one, "batch batches=left_share carries_over") for one in plan.batches
        ],
        **fields_of(plan, "unknown not_planned"),
        "not_sold": [fields_of(one, "id=what why because") for one in plan.not_sold],
        **fields_of(plan, "any_date"),
        "left_out": left_out_json(on_hand or {}),
    }


def left_out_json(on_hand: Stock) -> list[Data]:
    """What of the counts is not counted on, and why."""
    return [
        {"id": id_, "unit": have.unit, **fields_of(end, "amount why at until")}
        for id_, have in on_hand.items()
        for end in have.left_out
    ]


def _purchase_json(one: Purchase) -> Data:
    return {
        **fields_of(one, "ingredient mass_g pieces"),
        **({} if one.pieces is None else {"mass_g": None}),
        **fields_of(one.packs, "packs=count left_over unit"),
        **fields_of(one, "cost"),
        **fields_of(one.have, "on_hand=usable counted=written counted_at"),
    }


def orders_json(
    days: Sequence[str],
    dates: Sequence[date],
    orders: Iterable[Order],
    enough: Iterable[Purchase],
    on_hand: Stock | None = None,
) -> Data:
    """What to order for some days by supplier, what is on hand in full, and what of the counts is
    left out."""
    return {
        "days": [*days],
        "on": plain(dates),
        "orders": [
            {
                **fields_of(one, "supplier cost without_price=unpriced"),
                "lines": [_purchase_json(line) for line in one.lines],
            }
            for one in orders
        ],
        "enough": [_purchase_json(one) for one in enough],
        "left_out": left_out_json(on_hand or {}),
    }


ORDER_COLUMNS = (
    "supplier", "ingredient", "needed", "on_hand", "unit", "packs", "pack_holds", "cost",
    "counted_at",
)  # fmt: skip


def orders_csv(orders: Iterable[Order], enough: Iterable[Purchase]) -> str:
    """Orders for a spreadsheet, and what is on hand in full with 0 packs."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(ORDER_COLUMNS)
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


def _stored(what: str, held: Stored) -> Data:
    heaped = held.heap_g_ml is not None
    return {f"{what}_g": held.mass_g, f"{what}_ml": held.room_ml, "heaped": heaped}


def _making_json(making: Making, gives: Stored, language: str) -> Data:
    times = {"start": making.start_min, "ready": making.ready_min, "until": making.until_min}
    return {
        "batch": making.batch.id,
        "name": making.batch.name.in_language(language),
        "number": making.number,
        **{key: clock(minutes)[0] for key, minutes in times.items()},
        **fields_of(making, "factor=figure.factor needed_batches=share"),
        "loads": len(making.loads),
        **_stored("yield", gives),
    }


def _load_json(load: Load, language: str) -> Data:
    steps = [
        {
            "do": one.step.text.in_language(language),
            "start_min": start,
            "until_min": end,
            **fields_of(one, "hands_min from_c to_c ice_g known on=step.on"),
        }
        for one, start, end in load.timed
    ]
    return {
        **fields_of(load, "batch number of start_min ready_min from_min until_min late_min"),
        **fields_of(load, "factor=figure.factor"),
        "start": None if load.start_min is None else clock(load.start_min)[0],
        "parts": [fields_of(part, "item=part.item exact_g weigh_g") for part in load.figure.parts],
        "steps": steps,
    }


def batch_json(batch: BatchFigures, scaling: Scaling, container_ml: float | None = None) -> Data:
    """A scaled batch: parts, packs, yield, loss, bowl, containers and portions."""
    figure, bowl, heap = batch.figure, batch.bowl, batch.heap_g_ml
    return {
        **fields_of(figure, "batch factor"),
        **fields_of(scaling, "wish limited_by"),
        "parts": [
            fields_of(part, "item=part.item exact_g weigh_g volume_ml share")
            for part in figure.parts
        ],
        "packs": [
            {"item": item.id, **fields_of(packs, "count unit left_over")}
            for item, packs in purchase(figure)
        ],
        **fields_of(figure, "parts_g whipped_ml loss_g basis"),
        **_stored("yield", batch.gives(figure)),
        **fields_of(figure, "missing_densities=missing"),
        "bowl": bowl and fields_of(bowl, "room_ml=usable_ml loads largest_factor=largest_scale"),
        "containers": None
        if not container_ml
        else dict(zip(("count", "last_ml"), containers(figure, container_ml, heap), strict=True)),
        "portions": [
            fields_of(one, "component cup mass_g count left_over_g") for one in batch.portions
        ],
    }


def serving_json(serving: Serving) -> Data:
    choice = "sweetness=choice.sweetness ice=choice.ice add_ons=choice.add_ons swaps=choice.swaps"
    return fields_of(serving, f"drink cup {choice}")


def cost_json(one: DrinkCost) -> Data:
    return {
        **serving_json(one.serving),
        **fields_of(one, "cost=cost.rounded packaging=packaging.rounded price tax_in_price"),
        **fields_of(one, "net_price margin margin_share"),
        "missing_prices": [*one.cost.missing, *one.price_missing],
        "parts": [fields_of(part, "component mass_g cost=cost.rounded") for part in one.parts],
    }


def facts_json(facts: Facts, rules: str) -> Data:
    """A serving's facts: exact and as rounded for a label, ``null`` with what is missing."""
    label = facts.label(rules)

    def one(figure: Figure, name: str = "") -> Data:
        if figure.value is None:
            return {"value": None, "missing": list(figure.missing)}
        rounded = label.get(name)
        printed = {} if rounded is None else fields_of(rounded, "label=amount less_than")
        return {"value": figure.value, **printed}

    return {
        **{name: one(figure, name) for name, figure in facts.amounts.items()},
        "brix": one(facts.brix),
        "caffeine_mg_per_l": one(facts.caffeine_mg_per_l),
        "liquid_ml": facts.liquid_ml,
    }


def keeping_json(one: Keeping, language: str) -> Data:
    """Until when a batch may be used, with every limit and the names that lead to it."""
    return {
        "batch" if isinstance(one.item, Batch) else "ingredient": one.item.id,
        **fields_of(one, "prepared_at discard_at last_day kept_at_c=at_c"),
        "limits": [
            {**fields_of(limit, "at last_day because"), "path": names_of(limit.path, language)}
            for limit in one.limits
        ],
    }


def allergens_json(report: AllergenReport, language: str) -> Data:
    """Allergen ids with the names that lead to each and the reason."""

    def listed(kind: str) -> Data:
        return {
            allergen: [
                {"path": names_of(trace.path, language), "because": trace.because}
                for trace in traces
            ]
            for allergen, traces in getattr(report, kind).items()
        }

    return {
        "contains": listed("contains"),
        "may_contain": listed("may_contain"),
        "undeclared": [names_of(path, language) for path in report.undeclared],
    }


COST_COLUMNS = (
    "drink", "cup", "sweetness", "ice", "add_ons", "swaps", "packaging", "cost", "price",
    "net_price", "margin", "margin_share", "missing_prices", "energy_kcal", "sugars_g",
    "caffeine_mg",
)  # fmt: skip


def cost_csv(costs: Sequence[tuple[DrinkCost, Facts]]) -> str:
    """Costs for a spreadsheet: RFC 4180, numbers with a decimal point, nothing where unknown."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COST_COLUMNS)
    for one, facts in costs:
        choice, share = one.serving.choice, one.margin_share
        amounts = (facts[name].value for name in COST_COLUMNS[-3:])
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
                " ".join((*one.cost.missing, *one.price_missing)),
                *(None if value is None else f"{value:.1f}" for value in amounts),
            ]
        )
    return out.getvalue()
