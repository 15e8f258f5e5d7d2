"""What a step of prep needs in the kitchen, and who is there: checked, as they are linked."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Annotated, ClassVar

from buildsheets.menu.clock import DAY_MIN, LATEST_NIGHT_MIN, TimeOfDay
from buildsheets.menu.linker import Linker
from buildsheets.menu.schema import (
    ABOVE_0,
    Entry,
    Ml,
    Range,
    Record,
    Ref,
    Share,
    Text,
    Watts,
    key,
    maybe,
)

WHOLE_FROM_1 = Range("1 or more", 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing(Entry):
    """A kettle, burner, pot, oven, ice bath or fridge; ``count`` of them are alike."""

    called: ClassVar[str] = "kitchen thing"

    name: Text = key("what it is called")
    count: int = key("how many of them the shop has", default=1, within=WHOLE_FROM_1)
    holds_ml: Ml | None = maybe("what one holds to the rim: 8 l", "holds", within=ABOVE_0)
    fill_share: Share = key(
        "how full it may be", "fill", default=1.0, within=Range("from 1 to 100 %", 0.01, 1.0)
    )
    power_w: Watts | None = maybe(
        "heat it puts into the food or takes out of it; measure it with water: "
        "litres x degrees x 70 / minutes, so 3 l from 20 to 95 °C in 9 min are 1750 W",
        "power",
        within=ABOVE_0,
    )
    ice: bool = key("yes for a bath of ice water", default=False)
    keeps: bool = key(
        "yes for a fridge: several loads stand in it at once, up to what it holds", default=False
    )

    @property
    def room_ml(self) -> float | None:
        """What one takes; ``None`` where that does not limit it."""
        return None if self.holds_ml is None else self.holds_ml * self.fill_share


ThingRef = Annotated[Thing, Ref("thing of the kitchen", "kitchen")]


@dataclass(frozen=True, slots=True, kw_only=True)
class People(Record):
    """Pairs of hands free for prep between two times.

    ``from_min`` and ``to_min`` count from midnight of the planned day.
    """

    start_minutes: TimeOfDay = key("from when, as '07:30'", "from")
    end_minutes: TimeOfDay = key("until when, as '10:00'", "to")
    count: int = key("how many pairs of hands", default=1, within=WHOLE_FROM_1)
    the_day_before: bool = key("yes for hours of the day before", default=False)
    from_min: int = field(default=0)
    to_min: int = field(default=0)

    def linked(self, link: Linker) -> People:
        """With its minutes of the planned day; an end early in the night is the next day's."""
        start, end = self.start_minutes, self.end_minutes
        if end <= start and end <= LATEST_NIGHT_MIN:
            end += DAY_MIN
        if end <= start:
            early, written = self.written("from"), self.written("to")
            message = f"hands are free until {written.text}, not after {early.text}"
            link.error("DAY05", written.span, message)
        shift = DAY_MIN if self.the_day_before else 0
        return replace(self, from_min=start - shift, to_min=end - shift)
