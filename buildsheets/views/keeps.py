"""Components go in; how long what was opened or made for them keeps, in words, comes out."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf

from buildsheets.menu.model import Component, Ingredient, KeepsFor, Shop
from buildsheets.views.words import Words


def keeps_of(shop: Shop, components: Iterable[Component], words: Words) -> tuple[str, ...]:
    """How long it keeps, shortest first: the milk, not what is made of it; last what nobody gave a
    time for. A pack kept cold has no more days than the rule set gives, whatever is written on it.
    """
    found: dict[str, tuple[float, str]] = {}
    unsaid: dict[str, None] = {}
    for component in components:
        if component.steamed is not None:
            name = words.name(component)
            found[f"steamed {name}"] = (0.0, words("steam_fresh", name=name))
        source = component.kept
        if source is None or (isinstance(source, Ingredient) and source.on_tap):
            continue
        name, keeps = words.name(source), source.keeps_for
        if keeps is None:
            unsaid[name] = None
        elif keeps.hours is not None:
            text = words("keeps_hours", name=name, hours=round(keeps.hours, 1))
            found[name] = (keeps.hours, text)
        elif keeps.days is not None:
            days = days_of(shop, keeps)
            found[name] = (24.0 * days, words("keeps_days", name=name, count=days))
    if unsaid:
        found[""] = (inf, words("keeps_unsaid", names=", ".join(unsaid)))
    return tuple(text for _, text in sorted(found.values()))


def days_of(shop: Shop, keeps: KeepsFor) -> int:
    """The days that are printed for what keeps so many, 0 for what is told in hours."""
    days = keeps.days or 0
    in_cold = keeps.at_c is not None and keeps.at_c <= shop.cold_limit_c
    return min(days, shop.rule_days) if in_cold else days
