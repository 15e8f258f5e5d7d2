"""A day's plan or a menu's costs go in; the prep sheet and the owner's cost sheet come out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from buildsheets.menu.model import Menu
from buildsheets.prep.batches import PackNeed
from buildsheets.prep.cost import AddOnCost, BatchCost, DrinkCost
from buildsheets.prep.dayplan import BatchPlan, DayPlan, Making, Purchase
from buildsheets.views import prep_words as text
from buildsheets.views.prep_compose import HAND_MM
from buildsheets.views.prep_views import SheetTable, SheetView
from buildsheets.views.prep_words import name
from buildsheets.views.words import Words

BENCH_MM = 400.0
"""From the eye to the prep sheet on its board; common practice, no source."""

Row = tuple[str, ...]


def prep_sheet(menu: Menu, plan: DayPlan, words: Words) -> SheetView:
    """The day's plan to work from: what to make and when, what to have ready, what to buy."""
    hours = words(
        "prep_plan_hours",
        opens=text.clock(words, plan.opens_min),
        closes=text.clock(words, plan.closes_min % 1440),
        count=sum(line.count for line in plan.day.lines),
    )
    title = words("prep_plan_title", day=name(words, plan.day))
    tables = (
        _makings(plan, words),
        _ready(plan, words),
        _purchases(menu, plan, words),
        _left(plan, words),
    )
    notes = _plan_notes(menu, plan, words)
    code = f"plan-{plan.day.id}"
    return text.sheet(
        menu, words, "prepsheet", code, title, tables, notes, BENCH_MM, subtitle=hours
    )


def _plan_notes(menu: Menu, plan: DayPlan, words: Words) -> Iterator[str]:
    if plan.not_planned:
        drinks = (f"{name(words, menu.drinks[drink])} ({cup})" for drink, cup in plan.not_planned)
        yield words("prep_not_planned", names=", ".join(drinks))
    if plan.unknown:
        unknown = [menu.batches[one] for one in plan.unknown]
        yield words("prep_no_yield", names=text.names(words, unknown))
    yield words("prep_even_note")


def _makings(plan: DayPlan, words: Words) -> SheetTable:
    def row(making: Making) -> Row:
        figure = making.figure
        loads = words("prep_loads", count=making.loads) if making.loads > 1 else ""
        return (
            text.clock(words, making.start_min),
            text.clock(words, making.ready_min),
            name(words, making.batch),
            " · ".join(filter(None, (text.factor(words, figure.factor), loads))),
            text.amount(words, figure.yield_g, figure.yield_ml),
            text.clock(words, making.until_min),
        )

    keys = ("prep_start", "prep_ready", "prep_batch", "prep_make", "prep_gives", "prep_serves")
    weights = (2.4, 1.4, 4.0, 2.6, 3.4, 1.8)
    rows = map(row, plan.makings)
    return text.table(words, "prep_to_make", keys, rows, "llllll", weights, (0, 2, 3), tick=True)


def _ready(plan: DayPlan, words: Words) -> SheetTable:
    def up(one: BatchPlan, share: float) -> str:
        """Rounded up: stock to have ready must not fall short."""
        grams, ml = one.amount(share)
        if ml is not None:
            return text.millilitres(words, ml, up=True)
        return words("prep_unknown") if grams is None else text.whole_grams(words, grams, up=True)

    rows = (
        (name(words, one.batch), up(one, one.ready), up(one, one.share), up(one, one.at_most))
        for one in plan.batches
    )
    keys = ("prep_batch", "prep_at_opening", "prep_whole_day", "prep_at_most")
    weights = (5.0, 2.5, 2.5, 2.5)
    return text.table(words, "prep_par", keys, rows, "lrrr", weights, (0, 1), note="prep_par_note")


def _purchases(menu: Menu, plan: DayPlan, words: Words) -> SheetTable:
    def row(one: Purchase) -> Row:
        packs = one.packs
        if packs is None:
            needed = text.whole_grams(words, one.mass_g, up=True)
            return name(words, one.ingredient), needed, words("prep_no_pack"), "", ""
        cost = one.cost
        return (
            name(words, one.ingredient),
            _in_unit(packs, packs.need, words, up=True),
            f"{packs.count} × {_in_unit(packs, packs.pack, words)}",
            _in_unit(packs, packs.left_over, words),
            words("prep_no_price") if cost is None else words.money(cost, menu.shop.currency),
        )

    keys = ("prep_ingredient", "prep_needed", "prep_packs_of", "prep_left", "prep_cost")
    weights = (4.6, 2.4, 3.0, 2.4, 2.2)
    rows = map(row, plan.purchases)
    return text.table(words, "prep_to_buy", keys, rows, "lrrrr", weights, (0, 2), tick=True)


def _in_unit(packs: PackNeed, value: float, words: Words, *, up: bool = False) -> str:
    in_unit = text.millilitres if packs.unit == "ml" else text.whole_grams
    return in_unit(words, value, up=up)


def _left(plan: DayPlan, words: Words) -> SheetTable:
    rows = (
        (
            name(words, one.batch),
            text.amount(words, *one.amount(one.left_share)),
            words("prep_tomorrow" if one.carries_over else "prep_thrown_out"),
        )
        for one in plan.batches
        if one.left_share > 0.005
    )
    keys = ("prep_batch", "prep_left", "prep_fate")
    return text.table(words, "prep_left_title", keys, rows, "lrl", (5.0, 4.0, 4.0), (0,))


def cost_sheet(
    menu: Menu,
    costs: Sequence[DrinkCost],
    add_ons: Sequence[AddOnCost],
    batches: Sequence[BatchCost],
    words: Words,
    *,
    after: Sequence[DrinkCost] = (),
    what_if: str = "",
) -> SheetView:
    """The owner's sheet: cost, price and margin of each drink and cup, add-ons, and batches.

    With ``after`` (the same servings at another price) each row also shows the cost then and the
    difference; ``what_if`` says what changed.
    """
    tables = (
        _drinks(menu, costs, after, words),
        _add_ons(menu, add_ons, words),
        _batches(menu, batches, words),
    )
    title, notes = words("prep_costs_title"), (words("prep_costs_note"),)
    return text.sheet(
        menu, words, "costs", "costs", title, tables, notes, HAND_MM, subtitle=what_if
    )


def _drinks(
    menu: Menu, costs: Sequence[DrinkCost], after: Sequence[DrinkCost], words: Words
) -> SheetTable:
    def row(one: DrinkCost, *then: DrinkCost) -> Row:
        share = one.margin_share
        return (
            name(words, one.serving.drink),
            name(words, one.serving.cup),
            *(_money(menu, value, words) for value in (one.cost.rounded, one.price, one.margin)),
            "" if share is None else words.percent(float(share)),
            *(_money(menu, value, words) for other in then for value in one.changed_to(other)),
        )

    keys = ["prep_drink", "prep_size", "prep_cost", "prep_price", "prep_margin", "prep_share"]
    keys += ["prep_cost_then", "prep_more"] if after else []
    weights = (5.0, 2.4, *(2.0 for _ in keys[2:]))
    rows = map(row, costs, after) if after else map(row, costs)
    align = "ll" + "r" * (len(keys) - 2)
    return text.table(words, "prep_drinks", keys, rows, align, weights, (0, 4))


def _add_ons(menu: Menu, costs: Sequence[AddOnCost], words: Words) -> SheetTable:
    rows = (
        (
            name(words, one.add_on),
            name(words, one.cup),
            *(_money(menu, value, words) for value in (one.cost, one.price, one.margin)),
        )
        for one in costs
    )
    keys = ("add_ons", "prep_size", "prep_cost", "prep_price", "prep_margin")
    return text.table(words, "add_ons", keys, rows, "llrrr", (5.0, 2.4, 2.0, 2.0, 2.0), (0, 4))


def _batches(menu: Menu, costs: Sequence[BatchCost], words: Words) -> SheetTable:
    rows = (
        (
            name(words, one.figure.batch),
            text.amount(words, one.figure.yield_g, one.figure.yield_ml),
            *(_money(menu, value, words) for value in (one.cost.rounded, one.left_in_packs)),
        )
        for one in costs
    )
    keys = ("prep_batch", "prep_gives", "prep_cost", "prep_pack_left")
    return text.table(words, "prep_batches", keys, rows, "lrrr", (4.6, 4.0, 2.2, 3.0), (0,))


def _money(menu: Menu, value: Decimal | None, words: Words) -> str:
    """Money as the language writes it; "not computed" where a price is missing."""
    return words("prep_unknown") if value is None else words.money(value, menu.shop.currency)
