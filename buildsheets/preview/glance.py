"""A sound menu in; how every drink fits and what it costs, a row a cup, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import Menu
from buildsheets.prep.cost import Prices
from buildsheets.preview.order import money, verdict
from buildsheets.views.words import Words


@dataclass(frozen=True, slots=True)
class Row:
    """A drink in a cup. ``full`` is its contents as a share of what the cup may hold; ``misfits``
    says how many of a guest's choices do not fit, "" where all do."""

    drink: str
    drink_id: str
    cup: str
    cup_id: str
    full: float
    fits: bool
    verdict: str
    misfits: str
    money: tuple[str, ...]


def rows(menu: Menu, servings: Sequence[Serving], words: Words) -> list[Row]:
    """Every drink that is sold in the edition, in each of its cups."""
    prices = Prices()
    return [_row(menu, one, prices, words) for one in servings if menu.sells(one.drink)]


def _row(menu: Menu, serving: Serving, prices: Prices, words: Words) -> Row:
    cost = prices.drink(serving)
    share = cost.margin_share
    choices = serving.choices.outcomes
    misfits = sum(one.verdict == "too-much" for one in choices)
    return Row(
        words.name(serving.drink),
        serving.drink.id,
        words.name(serving.cup),
        serving.cup.id,
        serving.final.top_ml / serving.working_ml,
        serving.verdict != "too-much",
        verdict(serving, words),
        words("preview_some", count=misfits, all=len(choices)) if misfits else "",
        (*money(cost, menu, words), "" if share is None else words.percent(float(share))),
    )
