"""A day's plan or a menu's costs go in; the prep sheet and the owner's cost sheet come out."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from decimal import Decimal

from buildsheets.menu.model import Menu
from buildsheets.prep.batches import Packs, figure_batch
from buildsheets.prep.costing import DrinkCost, batch_cost, component_cost, pack_waste
from buildsheets.prep.dayplan import BatchPlan, DayPlan, Purchase, Run
from buildsheets.prep.facts import facts_of
from buildsheets.views import prep_words as shown
from buildsheets.views.prep_compose import A4_MM, HAND_MM
from buildsheets.views.prep_views import SheetTable, SheetView
from buildsheets.views.words import Words

BENCH_MM = 400.0
"""From the eye to the prep sheet on its board; common practice, no source."""


def prep_sheet(menu: Menu, plan: DayPlan, words: Words) -> SheetView:
    """The day's plan to work from: what to make and when, what to have ready, what to buy."""
    tables = [
        _runs(plan, words),
        _par(plan, words),
        _purchases(menu, plan, words),
        _left(plan, words),
    ]
    notes = [words("prep_even_note")]
    batches = {batch.id: batch.name.in_language(words.language) for batch in menu.batches.values()}
    if plan.unknown:
        names = ", ".join(batches[one] for one in plan.unknown)
        notes.insert(0, words("prep_no_yield", names=names))
    if plan.not_planned:
        names = ", ".join(
            f"{menu.drinks[drink].name.in_language(words.language)} ({cup})"
            for drink, cup in plan.not_planned
        )
        notes.insert(0, words("prep_not_planned", names=names))
    sold = sum(line.count for line in plan.day.lines)
    return SheetView(
        kind="prepsheet",
        language=words.language,
        code=f"plan-{plan.day.id}",
        title=words("prep_plan_title", day=plan.day.name.in_language(words.language)),
        subtitle=words(
            "prep_plan_hours",
            opens=shown.clock(words, plan.opens_min),
            closes=shown.clock(words, plan.closes_min % 1440),
            count=sold,
        ),
        tables=tuple(table for table in tables if table.rows),
        notes=tuple(notes),
        foot=shown.office_foot(words, menu, f"plan-{plan.day.id}"),
        reading_distance_mm=BENCH_MM,
        width_mm=A4_MM[0],
        height_mm=A4_MM[1],
    )


def _runs(plan: DayPlan, words: Words) -> SheetTable:
    keys = ("prep_start", "prep_ready", "prep_batch", "prep_make", "prep_gives", "prep_serves")
    return SheetTable(
        title=words("prep_to_make"),
        header=tuple(words(key) for key in keys),
        rows=tuple(_run(run, words) for run in plan.runs),
        align="llllll",
        weights=(2.4, 1.4, 4.0, 2.6, 3.4, 1.8),
        tick=True,
        strong=(0, 2, 3),
    )


def _run(run: Run, words: Words) -> tuple[str, ...]:
    make = shown.factor(words, run.figure.factor)
    if run.loads > 1:
        make += " · " + words("prep_loads", count=run.loads)
    return (
        shown.clock(words, run.start_min),
        shown.clock(words, run.ready_min),
        run.batch.name.in_language(words.language),
        make,
        shown.amount(words, run.figure.yield_g, run.figure.yield_ml),
        shown.clock(words, run.until_min),
    )


def _par(plan: DayPlan, words: Words) -> SheetTable:
    def given(share: float, batch_ml: float | None, batch_g: float | None) -> str:
        """Rounded up: stock to have ready must not fall short."""
        if batch_ml is not None:
            return shown.millilitres(words, share * batch_ml, up=True)
        if batch_g is not None:
            return shown.whole_grams(words, share * batch_g, up=True)
        return words("prep_unknown")

    return SheetTable(
        title=words("prep_par"),
        header=tuple(
            words(k) for k in ("prep_batch", "prep_at_opening", "prep_whole_day", "prep_at_most")
        ),
        rows=tuple(
            (
                par.batch.name.in_language(words.language),
                *(
                    given(share, par.figure.yield_ml, par.figure.yield_g)
                    for share in (par.ready, par.day, par.at_most)
                ),
            )
            for par in plan.par
        ),
        align="lrrr",
        weights=(5.0, 2.5, 2.5, 2.5),
        strong=(0, 1),
        note=words("prep_par_note"),
    )


def _purchases(menu: Menu, plan: DayPlan, words: Words) -> SheetTable:
    keys = ("prep_ingredient", "prep_needed", "prep_packs_of", "prep_left", "prep_cost")
    return SheetTable(
        title=words("prep_to_buy"),
        header=tuple(words(key) for key in keys),
        rows=tuple(_purchase(one, menu.shop.currency, words) for one in plan.purchases),
        align="lrrrr",
        weights=(4.6, 2.4, 3.0, 2.4, 2.2),
        tick=True,
        strong=(0, 2),
    )


def _purchase(one: Purchase, currency: str, words: Words) -> tuple[str, ...]:
    name = one.ingredient.name.in_language(words.language)
    if one.packs is None:
        needed = shown.whole_grams(words, one.mass_g, up=True)
        return name, needed, words("prep_no_pack"), "", ""
    packs = one.packs
    return (
        name,
        _in_unit(packs, packs.need, words, up=True),
        f"{packs.count} × {_in_unit(packs, packs.pack, words)}",
        _in_unit(packs, packs.left_over, words),
        words("prep_no_price") if one.cost is None else words.money(one.cost, currency),
    )


def _in_unit(packs: Packs, value: float, words: Words, *, up: bool = False) -> str:
    if packs.unit == "ml":
        return shown.millilitres(words, value, up=up)
    return shown.whole_grams(words, value, up=up)


def _left(plan: DayPlan, words: Words) -> SheetTable:
    def row(one: BatchPlan) -> tuple[str, str, str]:
        full = figure_batch(one.batch)
        amount = shown.amount(
            words,
            None if full.yield_g is None else full.yield_g * one.left_share,
            None if full.yield_ml is None else full.yield_ml * one.left_share,
        )
        fate = words("prep_tomorrow" if one.carries_over else "prep_thrown_out")
        return one.batch.name.in_language(words.language), amount, fate

    return SheetTable(
        title=words("prep_left_title"),
        header=(words("prep_batch"), words("prep_left"), words("prep_fate")),
        rows=tuple(row(one) for one in plan.batches if one.left_share > 0.005),
        align="lrl",
        weights=(5.0, 4.0, 4.0),
        strong=(0,),
    )


def cost_sheet(
    menu: Menu,
    costs: Sequence[DrinkCost],
    words: Words,
    *,
    after: Sequence[DrinkCost] = (),
    what_if: str = "",
) -> SheetView:
    """The owner's sheet: cost, price and margin of each drink and cup, add-ons, and batches.

    With ``after`` (the same servings at another price) each row also shows the cost then and the
    difference; ``what_if`` says what changed.
    """
    tables = [_drinks(menu, costs, after, words), _add_ons(menu, words), _batches(menu, words)]
    return SheetView(
        kind="costs",
        language=words.language,
        code="costs",
        title=words("prep_costs_title"),
        subtitle=what_if,
        tables=tuple(table for table in tables if table.rows),
        notes=(words("prep_costs_note"),),
        foot=shown.office_foot(words, menu, "costs"),
        reading_distance_mm=HAND_MM,
        width_mm=A4_MM[0],
        height_mm=A4_MM[1],
    )


def _drinks(
    menu: Menu, costs: Sequence[DrinkCost], after: Sequence[DrinkCost], words: Words
) -> SheetTable:
    keys = ["prep_drink", "prep_size", "prep_cost", "prep_price", "prep_margin", "prep_share"]
    if after:
        keys += ["prep_cost_then", "prep_more"]
    rows = []
    for index, one in enumerate(costs):
        row = [
            one.serving.drink.name.in_language(words.language),
            one.serving.cup.name.in_language(words.language),
            _money(menu, one.cost.shown, words),
            _money(menu, one.price, words),
            _money(menu, one.margin, words),
            "" if one.margin_share is None else words.percent(float(one.margin_share)),
        ]
        if after:
            then = after[index].cost
            more = (
                None
                if then.shown is None or one.cost.shown is None
                else (then.shown - one.cost.shown)
            )
            row += [_money(menu, then.shown, words), _money(menu, more, words)]
        rows.append(tuple(row))
    return SheetTable(
        title=words("prep_drinks"),
        header=tuple(words(key) for key in keys),
        rows=tuple(rows),
        align="ll" + "r" * (len(keys) - 2),
        weights=(5.0, 2.4, *(2.0 for _ in keys[2:])),
        strong=(0, 4),
    )


def _add_ons(menu: Menu, words: Words) -> SheetTable:
    rows = []
    for add_on in menu.add_ons.values():
        for cup_id, amount in add_on.amounts.items():
            if cup_id not in menu.cups:
                continue
            cost = component_cost(add_on.component, amount.mass_g, amount.volume_ml).shown
            price = add_on.price
            margin = None if cost is None or price is None else price - cost
            rows.append(
                (
                    add_on.name.in_language(words.language),
                    menu.cups[cup_id].name.in_language(words.language),
                    _money(menu, cost, words),
                    _money(menu, price, words),
                    _money(menu, margin, words),
                )
            )
    keys = ("add_ons", "prep_size", "prep_cost", "prep_price", "prep_margin")
    return SheetTable(
        title=words("add_ons"),
        header=tuple(words(key) for key in keys),
        rows=tuple(rows),
        align="llrrr",
        weights=(5.0, 2.4, 2.0, 2.0, 2.0),
        strong=(0, 4),
    )


def _batches(menu: Menu, words: Words) -> SheetTable:
    rows = []
    for batch in menu.batches.values():
        figure = figure_batch(batch)
        left = [waste.left_over_cost for waste in pack_waste(figure)]
        over = sum(one for one in left if one is not None) if left else None
        rows.append(
            (
                batch.name.in_language(words.language),
                shown.amount(words, figure.yield_g, figure.yield_ml),
                _money(menu, batch_cost(figure).shown, words),
                _money(menu, None if over is None else Decimal(round(over * 100)) / 100, words),
            )
        )
    keys = ("prep_batch", "prep_gives", "prep_cost", "prep_pack_left")
    return SheetTable(
        title=words("prep_batches"),
        header=tuple(words(key) for key in keys),
        rows=tuple(rows),
        align="lrrr",
        weights=(4.6, 4.0, 2.2, 3.0),
        strong=(0,),
    )


def _money(menu: Menu, value: Decimal | None, words: Words) -> str:
    """Money as the language writes it; "not computed" where a price is missing."""
    return words("prep_unknown") if value is None else words.money(value, menu.shop.currency)


COST_COLUMNS = (
    "drink",
    "cup",
    "sweetness",
    "ice",
    "add_ons",
    "cost",
    "price",
    "margin",
    "margin_share",
    "missing_prices",
    "energy_kcal",
    "sugars_g",
    "caffeine_mg",
)


def cost_csv(costs: Sequence[DrinkCost]) -> str:
    """Costs for a spreadsheet: RFC 4180, numbers with a decimal point, nothing where unknown."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COST_COLUMNS)
    for one in costs:
        choice, facts = one.serving.choice, facts_of(one.serving)
        share = one.margin_share
        energy, sugars, caffeine = (
            facts[name].value for name in ("energy_kcal", "sugars_g", "caffeine_mg")
        )
        writer.writerow(
            [
                one.serving.drink.id,
                one.serving.cup.id,
                "" if choice.sweetness is None else f"{choice.sweetness:g}",
                choice.ice or "",
                " ".join(choice.add_ons),
                _blank(one.cost.shown),
                _blank(one.price),
                _blank(one.margin),
                "" if share is None else f"{float(share):.4f}",
                " ".join((*one.cost.missing, *one.price_missing)),
                "" if energy is None else f"{energy:.1f}",
                "" if sugars is None else f"{sugars:.1f}",
                "" if caffeine is None else f"{caffeine:.1f}",
            ]
        )
    return out.getvalue()


def _blank(value: Decimal | None) -> str:
    return "" if value is None else str(value)
