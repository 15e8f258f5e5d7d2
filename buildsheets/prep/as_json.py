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
from buildsheets.menu.drinks import clock
from buildsheets.menu.model import Batch
from buildsheets.prep.batch_card import BatchFigures
from buildsheets.prep.cost import DrinkCost
from buildsheets.prep.dayplan import DayPlan, Making
from buildsheets.prep.keeping import Keeping
from buildsheets.prep.nutrition import Facts, Figure
from buildsheets.prep.scaling import Scaling, containers, purchase

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


def plan_json(plan: DayPlan, language: str) -> Data:
    """A day's plan; amounts in g and ml, times as clock times."""
    return {
        "day": plan.day.id,
        "opens": clock(plan.opens_min)[0],
        "closes": clock(plan.closes_min)[0],
        "components": [
            fields_of(need, "component mass_g volume_ml servings") for need in plan.components
        ],
        "runs": [_making_json(making, language) for making in plan.makings],
        "purchases": [
            {
                **fields_of(one, "ingredient mass_g"),
                **fields_of(one.packs, "packs=count left_over unit"),
                **fields_of(one, "cost"),
            }
            for one in plan.purchases
        ],
        "par": [
            {
                **fields_of(one, "batch ready_batches=ready day_batches=share"),
                **fields_of(one, "at_most_batches=at_most"),
                **dict(zip(("ready_g", "ready_ml"), one.amount(one.ready), strict=True)),
            }
            for one in plan.batches
        ],
        "left_over": [
            fields_of(one, "batch batches=left_share carries_over") for one in plan.batches
        ],
        **fields_of(plan, "unknown not_planned"),
    }


def _making_json(making: Making, language: str) -> Data:
    times = {"start": making.start_min, "ready": making.ready_min, "until": making.until_min}
    return {
        "batch": making.batch.id,
        "name": making.batch.name.in_language(language),
        "number": making.number,
        **{key: clock(minutes)[0] for key, minutes in times.items()},
        **fields_of(making, "factor=figure.factor needed_batches=share loads"),
        **fields_of(making.figure, "yield_g yield_ml"),
    }


def batch_json(batch: BatchFigures, scaling: Scaling, container_ml: float | None = None) -> Data:
    """A scaled batch: parts, packs, yield, loss, bowl, containers and portions."""
    figure, bowl = batch.figure, batch.bowl
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
        **fields_of(figure, "parts_g yield_g yield_ml whipped_ml loss_g basis"),
        **fields_of(figure, "missing_densities=missing"),
        "bowl": bowl and fields_of(bowl, "room_ml=usable_ml loads largest_factor=largest_scale"),
        "containers": None
        if not container_ml
        else dict(zip(("count", "last_ml"), containers(figure, container_ml), strict=True)),
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
        **fields_of(one, "cost=cost.rounded price margin margin_share"),
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
    "drink", "cup", "sweetness", "ice", "add_ons", "swaps", "cost", "price", "margin",
    "margin_share", "missing_prices", "energy_kcal", "sugars_g", "caffeine_mg",
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
                one.cost.rounded,
                one.price,
                one.margin,
                None if share is None else f"{float(share):.4f}",
                " ".join((*one.cost.missing, *one.price_missing)),
                *(None if value is None else f"{value:.1f}" for value in amounts),
            ]
        )
    return out.getvalue()
