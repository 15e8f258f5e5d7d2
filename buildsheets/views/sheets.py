"""A day's plan, costs or facts go in; the prep sheet, cost sheet and facts sheet come out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import TypeVar

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import Menu
from buildsheets.prep.buying import Purchase
from buildsheets.prep.cost import (
    AddOnCost,
    BatchCost,
    Costed,
    Costs,
    DrinkCost,
    ExtraCost,
    SizeCost,
    SwapCost,
)
from buildsheets.prep.dayplan import DayPlan
from buildsheets.prep.food_labels import LabelAmount
from buildsheets.prep.makings import BatchPlan, Making
from buildsheets.prep.nutrition import Facts
from buildsheets.prep.stock import Stock
from buildsheets.views import rounding
from buildsheets.views.card import office_foot
from buildsheets.views.paper import BOARD_MM, HAND_MM, sheet_mm
from buildsheets.views.run_sheet import RUN_KEYS, WEIGH_KEYS, ice_rows, run_notes, runs, weigh_rows
from buildsheets.views.stock import in_pack, in_unit, stock_notes
from buildsheets.views.types import SheetTable, SheetView
from buildsheets.views.when import not_sold, sold_only
from buildsheets.views.words import Words

Row = tuple[str, ...]
C = TypeVar("C", bound=Costed)


def table(
    words: Words,
    title: str,
    keys: Sequence[str],
    rows: Iterable[Row],
    align: str,
    weights: tuple[float, ...],
    strong: tuple[int, ...],
    *,
    tick: bool = False,
    note: str = "",
) -> SheetTable:
    """A table of a sheet; ``title``, ``keys`` of its columns and ``note`` are words' keys or ""."""
    return SheetTable(
        title=title and words(title),
        header=tuple(words(key) for key in keys),
        rows=tuple(rows),
        align=align,
        weights=weights,
        tick=tick,
        strong=strong,
        note=note and words(note),
    )


def sheet(
    menu: Menu,
    words: Words,
    kind: str,
    code: str,
    title: str,
    tables: Iterable[SheetTable],
    notes: Iterable[str],
    distance_mm: float,
    *,
    subtitle: str = "",
    landscape: bool = False,
) -> SheetView:
    """A sheet of those tables that have rows, of the paper of the shop's cards."""
    short_mm, long_mm = sheet_mm(menu.shop.card_mm)
    return SheetView(
        kind=kind,
        language=words.language,
        code=code,
        title=title,
        subtitle=subtitle,
        tables=tuple(one for one in tables if one.rows),
        notes=tuple(notes),
        foot=office_foot(words, menu, code),
        reading_distance_mm=distance_mm,
        width_mm=long_mm if landscape else short_mm,
        height_mm=short_mm if landscape else long_mm,
    )


def prep_sheet(
    menu: Menu,
    plan: DayPlan,
    words: Words,
    needs: Sequence[Purchase] | None = None,
    on_hand: Stock | None = None,
) -> SheetView:
    """The day's plan to work from: what to make and when, what to have ready, what to buy.

    ``needs`` are what the plan takes less what is ``on_hand``, where stock was counted.
    """
    stock, needs = on_hand or {}, plan.purchases if needs is None else needs
    date = [rounding.day(words, plan.on)] if plan.on else []
    hours = words(
        "prep_plan_hours",
        opens=rounding.clock(words, plan.opens_min),
        closes=rounding.clock(words, plan.closes_min % 1440),
        count=sum(line.count for line in plan.day.lines),
    )
    title = words("prep_plan_title", day=words.name(plan.day))
    tables = (
        _makings(plan, words),
        _weigh_out(plan, words),
        *_runs(plan, words),
        _ready(plan, words, stock),
        purchases_table(menu, needs, words, stock),
        _left(plan, words),
    )
    notes = (*_plan_notes(menu, plan, words), *stock_notes(stock, words))
    code = f"plan-{plan.day.id}"
    subtitle = " · ".join([*date, hours])
    return sheet(menu, words, "prepsheet", code, title, tables, notes, BOARD_MM, subtitle=subtitle)


def _plan_notes(menu: Menu, plan: DayPlan, words: Words) -> Iterator[str]:
    if plan.not_sold:
        told = (not_sold(menu, one, words) for one in plan.not_sold)
        yield words("prep_not_sold", names=", ".join(told))
    if plan.any_date:
        told = (sold_only(menu, one, words) for one in plan.any_date)
        yield words("prep_any_date", names=", ".join(told))
    if plan.not_planned:
        drinks = (f"{words.name(menu.drinks[drink])} ({cup})" for drink, cup in plan.not_planned)
        yield words("prep_not_planned", names=", ".join(drinks))
    if plan.unknown:
        unknown = [menu.batches[one] for one in plan.unknown]
        yield words("prep_no_yield", names=words.names(unknown))
    yield from run_notes(plan, words)
    yield words("prep_even_note" if len(plan.day.spread) < 2 else "prep_busy_note")


def _makings(plan: DayPlan, words: Words) -> SheetTable:
    def row(making: Making) -> Row:
        figure = making.figure
        scale = [rounding.factor(words, figure.factor)]
        scale += [words("prep_loads", count=len(making.loads))] if len(making.loads) > 1 else []
        return (
            rounding.clock(words, making.start_min),
            rounding.clocks(words, making.first_ready_min, making.ready_min),
            words.name(making.batch),
            " · ".join(scale),
            rounding.yield_amount(words, plan.gives(making)),
            rounding.clock(words, making.until_min),
        )

    keys = ("prep_start", "prep_ready", "prep_batch", "prep_make", "prep_gives", "prep_serves")
    weights = (2.4, 2.4, 4.0, 2.6, 3.4, 1.6)
    rows = map(row, plan.makings)
    return table(words, "prep_to_make", keys, rows, "llllll", weights, (0, 2, 3), tick=True)


def _runs(plan: DayPlan, words: Words) -> Iterator[SheetTable]:
    weights = (2.0, 4.4, 5.2, 3.2, 1.6, 2.2)
    for title, rows in runs(plan, words):
        one = table(words, "", RUN_KEYS, rows, "llllll", weights, (0, 1), tick=True)
        yield replace(one, title=title)


def _weigh_out(plan: DayPlan, words: Words) -> SheetTable:
    weights, rows = (4.4, 1.9, 9.0), weigh_rows(plan, words)
    return table(words, "prep_weigh_title", WEIGH_KEYS, rows, "lll", weights, (0,))


def _ready(plan: DayPlan, words: Words, stock: Stock) -> SheetTable:
    def up(one: BatchPlan, share: float) -> str:
        """Rounded up: stock to have ready must not fall short."""
        return rounding.stored(words, plan.stored(one, share), up=True) or words("prep_unknown")

    def there(one: BatchPlan) -> str:
        """What of the stock is used, rounded down: 0 of what has to be gone before closing."""
        if one.batch.id not in stock:
            return words("prep_uncounted")
        return rounding.stored(words, plan.stored(one, one.from_stock)) or "0"

    counted = any(one.batch.id in stock for one in plan.batches)
    rows: list[Row] = [
        (
            words.name(one.batch),
            rounding.yield_amount(words, plan.stored(one, one.ready(plan.opens_min))),
            up(one, one.share),
            *([there(one)] if counted else []),
        )
        for one in plan.batches
    ]
    rows += [(name, "", kg, *([""] if counted else [])) for name, kg in ice_rows(plan, words)]
    keys = ["prep_batch", "prep_at_opening", "prep_whole_day"]
    keys += ["prep_from_stock"] if counted else []
    align, weights = "l" + "r" * (len(keys) - 1), (5.0, 3.5, *(2.5 for _ in keys[2:]))
    return table(words, "prep_par", keys, rows, align, weights, (0, 1), note="prep_par_note")


def purchases_table(
    menu: Menu, needs: Iterable[Purchase], words: Words, stock: Stock, title: str = "prep_to_buy"
) -> SheetTable:
    """What is needed of each ingredient, what is on hand where stock was counted, what to buy."""
    currency = menu.shop.currency

    def row(one: Purchase) -> Row:
        packs, cost, name = one.packs, one.cost, words.name(one.ingredient)
        if packs is None:
            unit = "g" if one.pieces is None else "piece"
            needed, short = (in_unit(unit, n, words, up=True) for n in (one.need, one.short))
            no_pack = words("prep_no_pack")
            return name, needed, *there(one), f"{short}, {no_pack}" if stock else no_pack, "", ""
        return (
            name,
            in_unit(packs.unit, packs.need, words, up=True),
            *there(one),
            f"{packs.count} × {in_pack(packs.unit, packs.pack, words, one.ingredient.pack)}",
            in_unit(packs.unit, packs.left_over, words),
            words("prep_no_price") if cost is None else words.money(cost, currency),
        )

    def there(one: Purchase) -> Row:
        """Rounded down."""
        if not stock:
            return ()
        if one.have is None:
            return (words("prep_uncounted"),)
        return (in_unit(one.have.unit, one.have.usable, words),)

    keys = ["prep_ingredient", "prep_needed", "prep_packs_of", "prep_left", "prep_cost"]
    weights = [4.6, 2.4, 3.0, 2.4, 2.2]
    if stock:
        keys.insert(2, "prep_on_hand")
        weights.insert(2, 2.6)
    align, strong = "l" + "r" * (len(keys) - 1), (0, len(keys) - 3)
    rows = map(row, needs)
    return table(words, title, keys, rows, align, tuple(weights), strong, tick=True)


def _left(plan: DayPlan, words: Words) -> SheetTable:
    rows = (
        (
            words.name(one.batch),
            rounding.yield_amount(words, plan.stored(one, one.left_share)),
            words("prep_tomorrow" if one.carries_over else "prep_thrown_out"),
        )
        for one in plan.batches
        if one.left_share > 0.005
    )
    keys = ("prep_batch", "prep_left", "prep_fate")
    return table(words, "prep_left_title", keys, rows, "lrl", (5.0, 4.0, 4.0), (0,))


def cost_sheet(
    menu: Menu, costs: Costs, words: Words, *, then: Costs | None = None, what_if: str = ""
) -> SheetView:
    """The owner's sheet: cost, price and margin of each drink and cup, add-ons, swaps, batches, and
    the packaging of each size.

    Packaging and the net price have a column where there is some, and where tax is taken off. With
    ``then`` (the same at another price) each row also shows the cost then, how much more that is
    and the margin then; ``what_if`` says what changed.
    """
    unknown = words("prep_unknown")
    packed, net = bool(menu.packaging), any(one.tax_in_price for one in costs.drinks)

    def money(*values: Decimal | None) -> Row:
        return tuple(unknown if v is None else words.money(v, menu.shop.currency) for v in values)

    def drink(one: DrinkCost) -> Row:
        chosen = _choice(one.serving, words) if every_option else ""
        names = words.drink(one.serving.drink) + chosen, words.name(one.serving.cup)
        share = "" if one.margin_share is None else words.percent(float(one.margin_share))
        packaging = money(one.packaging.rounded) if packed else ()
        cost, *rest = kept(one, one.cost.rounded)
        return (*names, cost, *packaging, *rest, share)

    def add_on(one: AddOnCost) -> Row:
        return (words.name(one.add_on), words.name(one.cup), *kept(one, one.cost))

    def kept(one: DrinkCost | ExtraCost, cost: Decimal | None) -> Row:
        return money(cost, one.price, *([one.net_price] if net else []), one.margin)

    def swap(one: SwapCost) -> Row:
        replaced = words("instead_of", what=words.name(one.swap.replaced))
        names = f"{words.name(one.swap)} {replaced}", words.name(one.cup)
        return (*names, *kept(one, one.cost))

    def batch(one: BatchCost) -> Row:
        gives = rounding.yield_amount(words, one.gives)
        return (words.name(one.figure.batch), gives, *money(one.cost.rounded, one.left_in_packs))

    sold = {(one.serving.drink.id, one.serving.cup.id) for one in costs.drinks}
    every_option = len(sold) < len(costs.drinks)

    def size(one: SizeCost) -> Row:
        items = Counter(map(words.name, one.cup.packaging))
        listed = (name if n == 1 else f"{n} × {name}" for name, n in items.items())
        return (words.name(one.cup), ", ".join(listed), *money(one.cost.rounded))

    def rows(row: Callable[[C], Row], now: Sequence[C], later: Sequence[C]) -> Iterator[Row]:
        for at, one in enumerate(now):
            changed = money(*one.changed_to(later[at])) if then else ()
            yield (*row(one), *changed)

    figures = ["prep_price", *(["prep_net"] if net else []), "prep_margin"]
    costs_of = ["prep_cost", *(["prep_of_it_packaging"] if packed else [])]
    keys = ["prep_drink", "prep_size", *costs_of, *figures]
    margin = len(keys) - 1
    keys += ["prep_share_net" if net else "prep_share"]
    add_on_keys = ("add_ons", "prep_size", "prep_cost", *figures)
    charges = ["prep_charge", *(["prep_net"] if net else []), "prep_margin"]
    swap_keys = ("swaps", "prep_size", "prep_swap_cost", *charges)
    batch_keys = ("prep_batch", "prep_gives", "prep_cost", "prep_pack_left")
    size_keys = ("prep_size", "prep_goes_with", "prep_cost")
    after = ("prep_cost_then", "prep_more") if then else ()
    margin_after = (*after, "prep_margin_then") if then else ()
    later = then or costs

    def figured(title: str, keys: Sequence[str], cells: Iterable[Row], bold: int) -> SheetTable:
        keys = (*keys, *margin_after)
        weights = (5.0, 2.4, *(2.0 for _ in keys[2:]))
        return table(words, title, keys, cells, "ll" + "r" * (len(keys) - 2), weights, (0, bold))

    def plain(
        title: str, keys: Sequence[str], cells: Iterable[Row], align: str, *weights: float
    ) -> SheetTable:
        more = len(after)
        wide = (*weights, *(2.0 for _ in after))
        return table(words, title, (*keys, *after), cells, align + "r" * more, wide, (0,))

    drinks = rows(drink, costs.drinks, later.drinks)
    add_ons = rows(add_on, costs.add_ons, later.add_ons)
    swaps = rows(swap, costs.swaps, later.swaps)
    batches = rows(batch, costs.batches, later.batches)
    sizes = rows(size, costs.sizes, later.sizes)
    tables = (
        figured("prep_drinks", keys, drinks, margin),
        figured("add_ons", add_on_keys, add_ons, len(add_on_keys) - 1),
        figured("swaps", swap_keys, swaps, len(swap_keys) - 1),
        plain("prep_batches", batch_keys, batches, "lrrr", 5, 4, 2, 3),
        plain("prep_packaging", size_keys, sizes, "llr", 2.4, 9, 2),
    )
    title, notes = words("prep_costs_title"), _cost_notes(menu, costs.drinks, words)
    return sheet(
        menu, words, "costs", "costs", title, tables, notes, HAND_MM,
        subtitle=what_if, landscape=bool(then),
    )  # fmt: skip


def _cost_notes(menu: Menu, costs: Sequence[DrinkCost], words: Words) -> Iterator[str]:
    """What is counted, which tax was taken off, and what was not."""
    yield words("prep_costs_note")
    if unpacked := {one.serving.cup.id: one.serving.cup for one in costs if _unpacked(one)}:
        yield words("prep_no_packaging", names=words.names(unpacked.values()))
    if menu.shop.prices == "without tax":
        yield words("prep_tax_on_top")
        return
    rates = sorted({one.tax_in_price for one in costs if one.tax_in_price})
    if rates:
        percents = [words.percent(rate, exact=True) for rate in rates]
        yield words("prep_tax_off", rates=words.list(percents))
    untaxed = {one.serving.drink.id: one.serving.drink for one in costs if one.tax_in_price is None}
    if untaxed:
        names = words.names(untaxed.values())
        yield words("prep_no_tax_for", names=names) if rates else words("prep_no_tax")


def _unpacked(one: DrinkCost) -> bool:
    """Whether nobody said what a drink goes out in."""
    return not one.serving.cup.says("packaging") and not one.serving.drink.packaging


def _choice(serving: Serving, words: Words) -> str:
    """What was chosen, after the drink's name."""
    drink, choice = serving.drink, serving.choice
    parts = []
    if choice.sweetness is not None:
        parts.append(f"{words('sweetness')} {words.percent(choice.sweetness)}")
    if drink.ice is not None and choice.ice is not None:
        parts.append(words.text(drink.ice.names[choice.ice]))
    parts += [f"+ {words.name(one)}" for one in drink.add_ons if one.id in choice.add_ons]
    return "".join(f" · {part}" for part in parts)


_COLUMNS = {
    "energy_kcal": "prep_energy",
    "fat_g": "prep_fat",
    "saturates_g": "prep_saturates",
    "carbohydrate_g": "prep_carbohydrate",
    "sugars_g": "prep_sugars",
    "protein_g": "prep_protein",
    "salt_g": "prep_salt",
    "caffeine_mg": "prep_caffeine",
}


_SUGAR_MARKS = {"over-10-percent": " **", "over-5-percent": " *", "": ""}


def facts_sheet(
    menu: Menu, facts: Sequence[tuple[Serving, Facts, Facts]], words: Words
) -> SheetView:
    """Each drink and cup as made when nobody asks to change it, and the caffeine of its strongest
    choice, which the marks and notes go by; what is missing is named."""
    rules = menu.shop.label_rules
    sodium = {"salt_g": ("sodium_mg", "prep_sodium")} if rules == "us" else {}
    columns = dict(sodium.get(nutrient, (nutrient, key)) for nutrient, key in _COLUMNS.items())
    rows = (_row(*each, columns, rules, words) for each in facts)
    keys = ("prep_drink", "prep_size", *columns.values())
    weights = (5.4, 2.2, 4.0, 2.2, 2.6, 3.2, 2.6, 2.4, 2.2, 2.4)
    cells = table(words, "", keys, rows, "ll" + "r" * len(columns), weights, (0, 6))
    title, notes = words("prep_facts_title"), _notes(menu, facts, words)
    per = words("prep_facts_per", rules=words(f"prep_rules_{rules}"))
    return sheet(
        menu, words, "facts", "facts", title, [cells], notes, HAND_MM, subtitle=per, landscape=True
    )


def _row(
    serving: Serving, facts: Facts, strongest: Facts, columns: Mapping[str, str], rules: str,
    words: Words,
) -> Row:  # fmt: skip
    label = facts.label(rules)
    cells = {nutrient: _amount(label[nutrient], nutrient, words) for nutrient in columns}
    if rules == "eu" and label["energy_kj"] is not None:
        kj = _amount(label["energy_kj"], "energy_kj", words)
        cells["energy_kcal"] = f"{kj} · {cells['energy_kcal']}"
    cells["sugars_g"] += _SUGAR_MARKS[facts.sugar_band]
    cells["caffeine_mg"] += " !" if strongest.over_single_dose else ""
    return (words.drink(serving.drink), words.name(serving.cup), *cells.values())


def _amount(rounded: LabelAmount | None, nutrient: str, words: Words) -> str:
    if rounded is None:
        return words("prep_unknown")
    unit = nutrient.rpartition("_")[2]
    key = "prep_grams" if unit == "g" else f"prep_{unit}"
    amount = words(key, **{unit: rounded.amount})
    return words("prep_less_than", amount=amount) if rounded.less_than else amount


def _notes(
    menu: Menu, facts: Sequence[tuple[Serving, Facts, Facts]], words: Words
) -> Iterator[str]:
    if any(one.sugar_band for _, one, _ in facts):
        yield words("prep_sugar_mark")
    if any(strongest.over_single_dose for *_, strongest in facts):
        yield words("prep_dose_mark")
    most: dict[str, tuple[float, Serving]] = {}
    for serving, _, one in facts:
        drink, mg_per_l = serving.drink, one.caffeine_mg_per_l.value
        by_rule = menu.shop.label_rules == "eu" and one.needs_caffeine_words(drink, words.language)
        if mg_per_l is None or one.caffeine_mg_per_l.missing or not by_rule:
            continue
        if drink.id not in most or most[drink.id][0] < mg_per_l:
            most[drink.id] = (mg_per_l, serving)
    for mg_per_l, serving in most.values():
        mg = words.number(round(mg_per_l / 10))
        yield words("prep_high_caffeine", drink=words.name(serving.drink), mg=mg)
    missing = dict.fromkeys(id_ for _, one, _ in facts for n in _COLUMNS for id_ in one[n].missing)
    if missing:
        known = (menu.ingredients, menu.batches, menu.components)
        entries = [kind[id_] for id_ in missing for kind in known if id_ in kind]
        yield words("prep_missing", names=words.names(entries))
