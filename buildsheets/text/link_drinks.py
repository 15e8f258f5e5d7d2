"""Options, add-ons, drinks and planned days linked: written entries in, model entries out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from buildsheets.core.finding import At, Label, Mend
from buildsheets.core.model import (
    AddOn,
    AddStep,
    Amount,
    Component,
    CupSize,
    DaySales,
    DoStep,
    Drink,
    IceLevels,
    LineTo,
    SalesLine,
    Step,
    Sweetness,
    Tool,
)
from buildsheets.core.quantity import Quantity
from buildsheets.core.spelling import listed
from buildsheets.text.link_components import Stock, amount
from buildsheets.text.linking import Linker, text, value, written
from buildsheets.text.shapes import BySize, Named
from buildsheets.text.written_drinks import (
    WrittenAdd,
    WrittenAddOn,
    WrittenDay,
    WrittenDo,
    WrittenDrink,
    WrittenIceLevels,
    WrittenMenu,
    WrittenOptions,
    WrittenSweetness,
)

ADD_ONS_MOST = 2
"""More than two add-ons at once are not figured: the trade sells one or two (common practice,
no source), and the number of combinations grows as their power."""


@dataclass(frozen=True, slots=True)
class Counter:
    """What drinks are made of: stock, components, cups and add-ons, with the ids that failed."""

    stock: Stock
    components: Mapping[str, Component]
    components_failed: frozenset[str]
    cups: Mapping[str, CupSize]
    cups_failed: frozenset[str]


@dataclass(frozen=True, slots=True)
class Offer:
    """The options a drink offers unless it says otherwise."""

    sweetness: Sweetness | None
    ice: IceLevels | None
    add_ons_at_most: int
    hold_back_most_share: float


def offer(link: Linker, w: WrittenOptions | None) -> Offer:
    """The shop-wide options; none where none are written."""
    if w is None:
        return Offer(None, None, 0, 0.0)
    at_most = 0
    if w.add_ons is not None:
        at_most = w.add_ons.at_most.value
        if not 0 <= at_most <= ADD_ONS_MOST:
            link.error(
                "OPT01",
                w.add_ons.at_most.span,
                f"at_most is {at_most}; from 0 to {ADD_ONS_MOST} add-ons can be checked at once",
                mends=(Mend(f"write {ADD_ONS_MOST}", w.add_ons.at_most.span, str(ADD_ONS_MOST)),),
            )
            at_most = ADD_ONS_MOST
    share = value(w.add_ons.hold_back_at_most, 0.0) if w.add_ons else 0.0
    return Offer(
        _sweetness(link, w.sweetness) if w.sweetness else None,
        _ice_levels(link, w.ice) if w.ice else None,
        at_most,
        min(max(share, 0.0), 1.0),
    )


def _sweetness(link: Linker, w: WrittenSweetness) -> Sweetness:
    levels = [
        level.value.value
        for level in w.levels
        if link.within(level, "a sweetness level", 0.0, 3.0, "from 0 to 300 %") is not None
    ]
    default = w.default.value.value
    if default not in levels:
        link.error(
            "OPT02",
            w.default.span,
            f"the default {w.default.raw} is not one of the levels",
            hint=f"levels: {listed([level.raw for level in w.levels])}",
        )
    return Sweetness(tuple(levels), default, w.make_up.value, w.span)


def _ice_levels(link: Linker, w: WrittenIceLevels) -> IceLevels:
    levels: dict[str, float] = {}
    names = {}
    for key, level in w.levels.items.items():
        share = link.within(level.share, "the share of ice", 0.0, 2.0, "from 0 to 200 %")
        if share is not None:
            levels[key], names[key] = share, text(level.name)
    default = w.default.value
    link.find(w.default, levels, "ice level", w.levels.failed)
    if default not in levels and levels:
        default = next(iter(levels))
    return IceLevels(levels, names, default, w.keep.value, w.span)


def add_ons(link: Linker, section: Named[WrittenAddOn], counter: Counter) -> dict[str, AddOn]:
    """Add-ons with the amount for each cup they are given for."""
    found: dict[str, AddOn] = {}
    for key, w in section.items.items():
        component = link.find(w.topping, counter.components, "component", counter.components_failed)
        if component is None:
            continue
        if component.behaves == "ice":
            link.error(
                "OPT03",
                w.topping.span,
                f"add-on '{key}' is ice, which is an option of its own",
            )
            continue
        amounts: dict[str, Amount] = {}
        for cup_id, leaf in _each_cup(link, w.amount, counter).items():
            made = amount(link, leaf, component, component.tool)
            if made is not None:
                amounts[cup_id] = made
        found[key] = AddOn(
            key,
            text(w.name) if w.name else component.name,
            component,
            amounts,
            w.price.value if w.price else None,
            w.span,
        )
    return found


def _each_cup(
    link: Linker, by_size: BySize[At[Quantity]], counter: Counter
) -> dict[str, At[Quantity]]:
    """One leaf for each declared cup that the value names or covers."""
    for key in by_size.each:
        if key not in counter.cups and key not in counter.cups_failed:
            link.find(At(key, by_size.key_spans.get(key, by_size.span), key), counter.cups, "cup")
    leaves = {cup_id: by_size.get(cup_id) for cup_id in counter.cups}
    return {cup_id: leaf for cup_id, leaf in leaves.items() if leaf is not None}


def drinks(
    link: Linker,
    w: WrittenMenu,
    counter: Counter,
    offered: Offer,
    known_add_ons: Mapping[str, AddOn],
) -> dict[str, Drink]:
    """The drinks that linked without an error; the others are left out after their findings."""
    found: dict[str, Drink] = {}
    add_ons_failed = w.add_ons.failed | frozenset(set(w.add_ons.items) - set(known_add_ons))
    for key, entry in w.drinks.items.items():
        before = len(link.findings)
        drink = _drink(link, key, entry, counter, offered, known_add_ons, add_ons_failed)
        if drink is not None and len(link.findings) == before:
            found[key] = drink
    return found


def _drink(
    link: Linker,
    key: str,
    w: WrittenDrink,
    counter: Counter,
    offered: Offer,
    known_add_ons: Mapping[str, AddOn],
    add_ons_failed: frozenset[str],
) -> Drink | None:
    found = [link.find(ref, counter.cups, "cup", counter.cups_failed) for ref in w.cups]
    cups = tuple({cup.id: cup for cup in found if cup is not None}.values())
    if not cups:
        if not w.cups:
            link.error("DRK01", w.at("cups"), f"'{key}' names no cup")
        return None
    steps: list[Step] = []
    station = None
    complete = True
    for entry in w.build:
        step = (
            _add(link, key, entry, counter, cups, found)
            if isinstance(entry, WrittenAdd)
            else _do(link, entry, counter)
        )
        if step is None:
            complete = False
            continue
        # An action happens where the step before it did, unless it says otherwise.
        station = step.station or station
        steps.append(step if step.station else replace(step, station=station))
    if not complete:
        return None
    ordered = _with_body(link, key, w, steps)
    if ordered is None or not _vessels_agree(link, key, ordered):
        return None
    price = {}
    if w.price is not None:
        for cup in cups:
            leaf = w.price.get(cup.id)
            if leaf is not None:
                price[cup.id] = leaf.value
    chosen = [link.find(ref, known_add_ons, "add-on", add_ons_failed) for ref in w.add_ons]
    sweetness = None if w.sweetness and w.sweetness.value == "fixed" else offered.sweetness
    ice = None if w.ice and w.ice.value == "fixed" else offered.ice
    if ice is not None and w.keep is not None:
        ice = replace(ice, keep=w.keep.value)
    has = {step.component.role for step in ordered if isinstance(step, AddStep)}
    return Drink(
        id=key,
        name=text(w.name),
        group=w.group.value if w.group else "",
        cups=cups,
        price=price,
        steps=tuple(ordered),
        sweetness=sweetness if "sweetener" in has else None,
        ice=ice if "ice" in has else None,
        add_ons=tuple(add_on for add_on in chosen if add_on is not None),
        add_ons_at_most=offered.add_ons_at_most,
        hold_back_most_share=offered.hold_back_most_share,
        lid_may_press=bool(w.lid_may_press and w.lid_may_press.value),
        cautions=tuple(caution.value for caution in w.cautions),
        note=text(w.note) if w.note else None,
        span=w.span,
    )


def _add(
    link: Linker,
    drink: str,
    w: WrittenAdd,
    counter: Counter,
    cups: tuple[CupSize, ...],
    found: list[CupSize | None],
) -> AddStep | None:
    stock = counter.stock
    component = link.find(
        w.add, counter.components, "base, sweetener, topping or ice", counter.components_failed
    )
    station = link.find(w.station, stock.stations, "station", stock.failed)
    tool = link.find(w.tool, stock.tools, "tool", stock.failed)
    if component is None:
        return None
    if (w.amount is None) == (w.fill_to is None):
        both = "both amount and fill_to" if w.amount else "neither amount nor fill_to"
        link.error(
            "DRK02",
            w.add.span,
            f"the step that adds '{component.id}' to '{drink}' has {both}",
            hint="write exactly one of them",
        )
        return None
    if w.fill_to is not None and component.behaves != "liquid":
        link.error(
            "DRK03",
            w.at("fill_to"),
            f"'{component.id}' is {component.behaves}; only a liquid can be poured to a line",
            hint="write an amount",
        )
        return None
    measure = tool or (_line_tool(stock) if w.fill_to is not None else component.tool)
    amounts: dict[str, Amount | LineTo] = {}
    by_size: BySize[At[Quantity]] = w.amount or w.fill_to  # type: ignore[assignment]
    leaves = _each_cup(link, by_size, counter)
    for cup in cups:
        leaf = leaves.get(cup.id)
        if leaf is None:
            link.error(
                "DRK04",
                by_size.span,
                f"'{drink}' is sold in cup '{cup.id}', and this step gives no amount of "
                f"'{component.id}' for it",
                hint=f"add {cup.id}: to this step, or take the cup out of the drink",
                labels=(Label(cup.span, "the cup"),),
            )
            continue
        made = amount(link, leaf, component, measure) if w.amount is not None else _line(link, leaf)
        if made is not None:
            amounts[cup.id] = made
    if len(amounts) < len(cups):
        return None
    where = station or component.station
    if where is None:
        link.error(
            "STN04",
            w.add.span,
            f"nothing says at which station '{component.id}' is added to '{drink}'",
            hint="name a station here or at the component",
            labels=(Label(component.span, "the component"),),
        )
        return None
    return AddStep(
        component=component,
        amounts=amounts,
        into=w.into.value if w.into else "cup",
        station=where,
        tool=measure,
        body=bool(w.body and w.body.value),
        note=text(w.note) if w.note else component.dairy_stir,
        span=w.span,
    )


def _line_tool(stock: Stock) -> Tool | None:
    """The tool a line is poured to with: the one of kind "line", where there is one."""
    return next((tool for tool in stock.tools.values() if tool.kind == "line"), None)


def _line(link: Linker, leaf: At[Quantity]) -> LineTo | None:
    if link.positive(leaf, "the line") is None:
        return None
    quantity = leaf.value
    if quantity.kind == "length":
        return LineTo(None, quantity.value, written(leaf))
    return LineTo(quantity.value, None, written(leaf))


def _do(link: Linker, w: WrittenDo, counter: Counter) -> DoStep | None:
    if w.do.value == "shake" and w.pour is None:
        link.error(
            "DRK05",
            w.do.span,
            "after shaking, does the ice stay behind (strained) or go in the cup (dumped)?",
            hint="add pour: strained, or pour: dumped",
        )
        return None
    return DoStep(
        action=w.do.value,
        pour=w.pour.value if w.pour else "",
        seconds=link.positive(w.time, "the time"),
        station=link.find(w.station, counter.stock.stations, "station", counter.stock.failed),
        note=text(w.note) if w.note else None,
        span=w.span,
    )


def _with_body(link: Linker, key: str, w: WrittenDrink, steps: list[Step]) -> list[Step] | None:
    """Mark the base that makes room: the one that says so, else the last base added."""
    marked = [i for i, step in enumerate(steps) if isinstance(step, AddStep) and step.body]
    if len(marked) > 1:
        link.error(
            "DRK06",
            steps[marked[1]].span,
            f"two steps of '{key}' say body: yes; one base makes room for all the rest",
            labels=(Label(steps[marked[0]].span, "also here"),),
        )
        return None
    if marked:
        return steps
    bases = [
        i
        for i, step in enumerate(steps)
        if isinstance(step, AddStep) and step.component.role == "base"
    ]
    lines = [
        i
        for i in bases
        if any(isinstance(made, LineTo) for made in steps[i].amounts.values())  # type: ignore[union-attr]
    ]
    if not bases:
        link.error(
            "DRK07",
            w.at("build"),
            f"'{key}' has no base, so nothing can make room for an add-on",
        )
        return None
    chosen = (lines or bases)[-1]
    step = steps[chosen]
    assert isinstance(step, AddStep)
    return [*steps[:chosen], replace(step, body=True), *steps[chosen + 1 :]]


def _vessels_agree(link: Linker, key: str, steps: list[Step]) -> bool:
    """What goes into the shaker must come out of it, and a shake needs something to shake."""
    in_shaker: AddStep | None = None
    for step in steps:
        if isinstance(step, AddStep):
            if step.into == "shaker":
                in_shaker = step
        elif step.action in ("shake", "pour"):
            if in_shaker is None:
                link.error(
                    "DRK08",
                    step.span,
                    f"'{key}' says {step.action}, and nothing is in the shaker",
                    hint="add into: shaker to the steps before it",
                )
                return False
            in_shaker = None
    if in_shaker is not None:
        link.error(
            "DRK09",
            in_shaker.span,
            f"'{key}' leaves '{in_shaker.component.id}' in the shaker",
            hint="add a step do: shake or do: pour after it",
        )
        return False
    return True


def days(
    link: Linker,
    section: Named[WrittenDay],
    known_drinks: Mapping[str, Drink],
    drinks_failed: frozenset[str],
) -> dict[str, DaySales]:
    """Days to plan for, with their expected sales."""
    found: dict[str, DaySales] = {}
    for key, w in section.items.items():
        opens, closes = _minutes(link, w.opens), _minutes(link, w.closes)
        if opens is None or closes is None:
            continue
        if closes <= opens:
            link.error(
                "DAY01",
                w.closes.span,
                f"'{key}' closes at {w.closes.value}, not after it opens at {w.opens.value}",
            )
            continue
        lines: list[SalesLine] = []
        for sale in w.sales:
            drink = link.find(sale.drink, known_drinks, "drink", drinks_failed)
            if drink is None:
                continue
            extras = []
            for add_on_id, count in sale.add_ons.items.items() if sale.add_ons else ():
                ref = At(add_on_id, sale.add_ons.key_spans[add_on_id], add_on_id)  # type: ignore[union-attr]
                add_on = link.find(ref, {a.id: a for a in drink.add_ons}, "add-on of the drink")
                if add_on is not None:
                    extras.append((add_on, count.value))
            sold = {cup.id: cup for cup in drink.cups}
            for cup_id, leaf in sale.count.each.items():
                span = sale.count.key_spans.get(cup_id, sale.count.span)
                cup = link.find(At(cup_id, span, cup_id), sold, "cup of this drink")
                if cup is not None and leaf.value >= 0:
                    lines.append(SalesLine(drink, cup, leaf.value, sale.span, tuple(extras)))
                    extras = []
            if sale.count.all is not None:
                for cup in drink.cups:
                    lines.append(
                        SalesLine(drink, cup, sale.count.all.value, sale.span, tuple(extras))
                    )
                    extras = []
        found[key] = DaySales(key, text(w.name), opens, closes, tuple(lines), w.span)
    return found


def _minutes(link: Linker, leaf: At[str]) -> int | None:
    hours, _, minutes = leaf.value.partition(":")
    if hours.isdigit() and minutes.isdigit() and len(minutes) == 2:
        total = 60 * int(hours) + int(minutes)
        if int(minutes) < 60 and total <= 24 * 60:
            return total
    link.error(
        "DAY02",
        leaf.span,
        f"'{leaf.value}' is no time of day",
        hint="write it as 09:00 or 20:30",
    )
    return None
