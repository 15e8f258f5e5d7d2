"""Planned days linked: written days in, days with their expected sales out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from buildsheets.findings.finding import At
from buildsheets.menu.linking import Linker, text
from buildsheets.menu.model import DaySales, Drink, SalesLine
from buildsheets.menu.shapes import Lost, Named
from buildsheets.menu.written_drinks import WrittenDay, WrittenSale


def days(
    link: Linker,
    section: Named[WrittenDay],
    drinks: Mapping[str, Drink],
    drinks_lost: Lost,
    cups_lost: Lost,
    add_ons_lost: Lost,
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
            drink = link.find(sale.drink, drinks, "drink", drinks_lost)
            if drink is not None:
                lines += _sold(link, sale, drink, cups_lost, add_ons_lost)
        found[key] = DaySales(key, text(w.name), opens, closes, tuple(lines), w.span)
    return found


def _sold(
    link: Linker, sale: WrittenSale, drink: Drink, cups_lost: Lost, add_ons_lost: Lost
) -> list[SalesLine]:
    """One line for each cup of a drink; the add-ons stand with the first, being of all of them."""
    extras = []
    offered = {add_on.id: add_on for add_on in drink.add_ons}
    if sale.add_ons is not None:
        for add_on_id, count in sale.add_ons.items.items():
            ref = At(add_on_id, sale.add_ons.key_spans[add_on_id], add_on_id)
            add_on = link.find(ref, offered, "add-on of the drink", add_ons_lost)
            if link.positive(count, "the number sold", zero=True) is not None and add_on:
                extras.append((add_on, count.value))
    sold = {cup.id: cup for cup in drink.cups}
    for cup_id in sale.count.each:
        span = sale.count.key_spans.get(cup_id, sale.count.span)
        link.find(At(cup_id, span, cup_id), sold, "cup of this drink", cups_lost)
    for leaf in (sale.count.all, *sale.count.each.values()):
        link.positive(leaf, "the number sold", zero=True)
    counts = {cup.id: sale.count.get(cup.id) for cup in drink.cups}
    lines = [
        SalesLine(drink, sold[cup_id], leaf.value, sale.span)
        for cup_id, leaf in counts.items()
        if leaf is not None and leaf.value >= 0
    ]
    if lines:
        lines[0] = replace(lines[0], add_ons=tuple(extras))
    return lines


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
