"""Add-ons and drinks linked: written entries in, model entries out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from buildsheets.findings.finding import At, Label
from buildsheets.menu.link_components import Stock, amount
from buildsheets.menu.link_options import Offer
from buildsheets.menu.linking import Linker, text, written
from buildsheets.menu.model import (
    AddOn,
    AddStep,
    Amount,
    Component,
    CupSize,
    DoStep,
    Drink,
    LineTo,
    Step,
    Tool,
)
from buildsheets.menu.quantity import Quantity
from buildsheets.menu.shapes import BySize, Lost, Named
from buildsheets.menu.written_drinks import (
    WrittenAdd,
    WrittenAddOn,
    WrittenDo,
    WrittenDrink,
    WrittenMenu,
)


@dataclass(frozen=True, slots=True)
class Counter:
    """What drinks are made of: stock, components and cups, with the ids that were lost."""

    stock: Stock
    components: Mapping[str, Component]
    components_lost: Lost
    cups: Mapping[str, CupSize]
    cups_lost: Lost


def add_ons(link: Linker, section: Named[WrittenAddOn], counter: Counter) -> dict[str, AddOn]:
    """Add-ons with the amount for each cup they are given for."""
    found: dict[str, AddOn] = {}
    for key, w in section.items.items():
        component = link.find(w.topping, counter.components, "component", counter.components_lost)
        link.positive(w.price, "the price", zero=True)
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
    _known_cups(link, by_size, counter.cups, counter.cups_lost)
    leaves = {cup_id: by_size.get(cup_id) for cup_id in counter.cups}
    return {cup_id: leaf for cup_id, leaf in leaves.items() if leaf is not None}


def _known_cups(
    link: Linker, by_size: BySize[object], cups: Mapping[str, CupSize], lost: Lost
) -> None:
    for key in by_size.each:
        link.find(At(key, by_size.key_spans.get(key, by_size.span), key), cups, "cup", lost)


def drinks(
    link: Linker,
    w: WrittenMenu,
    counter: Counter,
    offered: Offer,
    known_add_ons: Mapping[str, AddOn],
) -> dict[str, Drink]:
    """The drinks that linked without an error; the others are left out after their findings."""
    found: dict[str, Drink] = {}
    add_ons_lost = w.add_ons.lost(known_add_ons)
    for key, entry in w.drinks.items.items():
        before = len(link.findings)
        drink = _drink(link, key, entry, counter, offered, known_add_ons, add_ons_lost)
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
    add_ons_lost: Lost,
) -> Drink | None:
    found = [link.find(ref, counter.cups, "cup", counter.cups_lost) for ref in w.cups]
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
            _add(link, key, entry, counter, cups)
            if isinstance(entry, WrittenAdd)
            else _do(link, entry, counter.stock)
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
        _known_cups(link, w.price, counter.cups, counter.cups_lost)
        for leaf in (w.price.all, *w.price.each.values()):
            link.positive(leaf, "the price", zero=True)
        for cup in cups:
            leaf = w.price.get(cup.id)
            if leaf is not None:
                price[cup.id] = leaf.value
    chosen = [link.find(ref, known_add_ons, "add-on", add_ons_lost) for ref in w.add_ons]
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
) -> AddStep | None:
    stock = counter.stock
    component = link.find(
        w.add, counter.components, "base, sweetener, topping or ice", counter.components_lost
    )
    station = link.find(w.station, stock.stations, "station", stock.stations_lost)
    tool = link.find(w.tool, stock.tools, "tool", stock.tools_lost)
    if component is None or (w.station and not station) or (w.tool and not tool):
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
    if w.fill_to is not None and w.into is not None and w.into.value == "shaker":
        link.error(
            "DRK03",
            w.at("fill_to"),
            f"'{component.id}' goes into the shaker, and a line is a mark on the cup",
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


def _do(link: Linker, w: WrittenDo, stock: Stock) -> DoStep | None:
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
        station=link.find(w.station, stock.stations, "station", stock.stations_lost),
        note=text(w.note) if w.note else None,
        span=w.span,
    )


def _with_body(link: Linker, key: str, w: WrittenDrink, steps: list[Step]) -> list[Step] | None:
    """Mark the base that makes room: the one that says so, else the last base added.

    A base poured to a line comes before one of a fixed amount; ``body: no`` excludes a base.
    """
    marked = [i for i, step in enumerate(steps) if isinstance(step, AddStep) and step.body]
    for i in marked:
        step = steps[i]
        assert isinstance(step, AddStep)
        if step.component.role != "base":
            link.error(
                "DRK10",
                w.build[i].at("body"),
                f"'{step.component.id}' is no base, so it cannot make room in '{key}'",
                hint="say body: yes at a base, or leave it out",
            )
            return None
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
        if isinstance(step, AddStep) and step.component.role == "base" and not refuses(w.build[i])
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


def refuses(w: WrittenAdd | WrittenDo) -> bool:
    """Whether a step says that it is not the one to make room."""
    return isinstance(w, WrittenAdd) and w.body is not None and not w.body.value


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
