"""Days to plan prep for, with their expected sales: checked as they are linked."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated, ClassVar

from buildsheets.menu.drinks import AddOn, Drink, DrinkRef
from buildsheets.menu.equipment import CupSize
from buildsheets.menu.schema import FROM_0, BySize, Entry, Form, Record, Text, key

if TYPE_CHECKING:
    from buildsheets.menu.linker import Linker

DAY_MIN = 24 * 60


def _minutes(text: str) -> int | None:
    hours, _, minutes = text.partition(":")
    if not (hours.isdecimal() and minutes.isdecimal() and len(minutes) == 2):
        return None
    total = 60 * int(hours) + int(minutes)
    return total if int(minutes) < 60 and total <= DAY_MIN else None


def clock(minutes: float) -> tuple[str, int]:
    """A time from minutes of a day, rounded down, and the day it is on: 0 is that day itself."""
    days, minute = divmod(math.floor(minutes + 1e-6), DAY_MIN)
    return f"{minute // 60:02d}:{minute % 60:02d}", days


TimeOfDay = Annotated[
    int, Form("DAY02", _minutes, "'{}' is no time of day", "write it as 09:00 or 20:30")
]


@dataclass(frozen=True, slots=True, kw_only=True)
class SalesLine:
    """Expected sales on a day: drink, cup, how many, and how many of each add-on with them."""

    drink: Drink
    cup: CupSize
    count: int
    add_ons: tuple[tuple[AddOn, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sale(Record):
    """Expected sales of one drink on one day."""

    drink: DrinkRef = key("the drink")
    count: BySize[int] = key("how many, each cup", within=FROM_0)
    add_ons: Mapping[str, int] = key(
        "how many of all these with each add-on", factory=dict, within=FROM_0
    )

    def lines(self, link: Linker) -> list[SalesLine]:
        """One line for each cup of the drink; the add-ons stand with the first, being of all."""
        sold = {cup.id: cup for cup in self.drink.cups}
        for cup_id, span in self.count.places.items():
            link.known(cup_id, span, sold, "cup of this drink", "cups")
        offered = {add_on.id: add_on for add_on in self.drink.add_ons}
        add_ons = []
        for add_on_id, count in self.add_ons.items():
            if link.known(
                add_on_id,
                self.keys_in("add_ons")[add_on_id],
                offered,
                "add-on of the drink",
                "add_ons",
            ):
                add_ons.append((offered[add_on_id], count))
        counts = {cup.id: self.count.get(cup.id) for cup in self.drink.cups}
        lines = [
            SalesLine(drink=self.drink, cup=sold[cup_id], count=count.value)
            for cup_id, count in counts.items()
            if count is not None
        ]
        if lines:
            lines[0] = replace(lines[0], add_ons=tuple(add_ons))
        return lines


@dataclass(frozen=True, slots=True, kw_only=True)
class DaySales(Entry):
    """A day to plan prep for."""

    called: ClassVar[str] = "day"

    name: Text = key("the day in words")
    opens_at_minutes: TimeOfDay = key("opening time, as '09:00'", "opens")
    closes_at_minutes: TimeOfDay = key("closing time, as '20:00'", "closes")
    sales: tuple[Sale, ...] = key("expected sales", default=(), needed=True)
    lines: tuple[SalesLine, ...] = ()

    def linked(self, link: Linker) -> DaySales:
        """With one line of sales for each drink and cup."""
        if self.closes_at_minutes <= self.opens_at_minutes:
            opens, closes = self.written("opens"), self.written("closes")
            link.error(
                "DAY01",
                closes.span,
                f"'{self.id}' closes at {closes.text}, not after it opens at {opens.text}",
            )
        lines = [line for sale in self.sales for line in sale.lines(link)]
        return replace(self, lines=tuple(lines))
