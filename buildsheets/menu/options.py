"""The options drinks offer: sweetness, ice and add-ons; checked as they are linked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Annotated, Literal

from buildsheets.findings.finding import Fix
from buildsheets.findings.spelling import listed
from buildsheets.menu.amounts import Amount, amount
from buildsheets.menu.components import UNNAMED, ComponentRef
from buildsheets.menu.linker import Linker
from buildsheets.menu.packaging import PackagingRef, straw_of
from buildsheets.menu.schema import (
    FROM_0,
    BySize,
    DrinkAmount,
    Entry,
    Id,
    Range,
    Record,
    Ref,
    Share,
    Text,
    Was,
    key,
    maybe,
)
from buildsheets.menu.when import SOLD_OUT

ADD_ONS_MOST = 2
"""More than two add-ons at once are not figured: the trade sells one or two (common practice,
no source), and the number of combinations grows as their power."""

WithLess = Literal["same_line", "same_amounts"]
KEEP = Was("keep", {"line": "same_line", "recipe": "same_amounts"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweetness(Record):
    """Sweetness levels.

    Levels are shares of the written sweetener.
    """

    levels: tuple[Share, ...] = key(
        "[0 %, 25 %, 50 %, 75 %, 100 %]", within=Range("from 0 to 300 %", 0.0, 3.0)
    )
    default: Share = key("the level made when nobody says")
    with_less_sweet: Literal["more_base", "same_amounts"] = key(
        "more_base: base makes up for missing syrup; same_amounts: the drink is shorter",
        was=Was("make_up", {"base": "more_base", "none": "same_amounts"}),
    )

    def linked(self, link: Linker) -> Sweetness:
        """Checked: what is made when nobody says must be one of the levels."""
        if self.default not in self.levels:
            default = self.written("default")
            message = f"the default {default.text} is not one of the levels"
            hint = f"levels: {listed(f'{100.0 * level:g} %' for level in self.levels)}"
            link.error("OPT02", default.span, message, hint)
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class IceLevel(Record):
    """One ice level."""

    name: Text = key("how a guest says it")
    share: Share = key("share of the written ice", within=Range("from 0 to 200 %", 0.0, 2.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class IceLevels(Record):
    """Ice levels.

    ``levels`` are their shares of the written ice.
    """

    by_id: Mapping[str, IceLevel] = key("levels by id", "levels", factory=dict, needed=True)
    default: Annotated[str, Id()] = key("the level made when nobody says")
    with_less_ice: WithLess = key(
        "same_line: more base for less ice; same_amounts: same drink, lower line", was=KEEP
    )
    levels: Mapping[str, float] = field(default_factory=dict)
    names: Mapping[str, Text] = field(default_factory=dict)

    def linked(self, link: Linker) -> IceLevels:
        """Checked: what is made when nobody says must be one of the levels."""
        link.known(self.default, self.written("default").span, self.by_id, "ice level")
        return replace(
            self,
            levels={id: level.share for id, level in self.by_id.items()},
            names={id: level.name for id, level in self.by_id.items()},
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class AddOnRule(Record):
    """How many add-ons a guest may ask for and how much base may make room."""

    at_most: int = key("how many at once, 0 to 2")
    hold_back_most_share: Share = key(
        "largest share of the base that may be left out for an add-on",
        "hold_back_at_most",
        within=Range("from 0 to 100 %", 0.0, 1.0),
    )

    def linked(self, link: Linker) -> AddOnRule:
        """Checked: no more add-ons at once than are figured."""
        if not 0 <= self.at_most <= ADD_ONS_MOST:
            span = self.written("at_most").span
            link.error(
                "OPT01",
                span,
                f"at_most is {self.at_most}; from 0 to {ADD_ONS_MOST} add-ons can be checked at "
                "once",
                fixes=(Fix(f"write {ADD_ONS_MOST}", span, str(ADD_ONS_MOST)),),
            )
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class Options(Record):
    """The options every drink offers unless it says otherwise."""

    sweetness: Sweetness | None = maybe("sweetness")
    ice: IceLevels | None = maybe("ice")
    add_ons: AddOnRule | None = maybe("add-ons")


@dataclass(frozen=True, slots=True, kw_only=True)
class AddOn(Entry):
    """A topping a guest may add.

    ``amounts`` are by cup id.
    """

    component: ComponentRef = key("which topping", "topping")
    name: Text = key("what the guest calls it", default=UNNAMED)
    amount: BySize[DrinkAmount] | None = maybe("how much, for all sizes or each", needed=True)
    price: Decimal | None = maybe("what it adds to the price", within=FROM_0)
    straw: Text | None = maybe(
        "which straw it asks for, in words: wide straw; else the one under packaging"
    )
    packaging: tuple[PackagingRef, ...] = key(
        "what it asks for in place of the size's own, or on top: [wide-straw]", default=()
    )
    sold_out: bool = key(SOLD_OUT, default=False)
    amounts: Mapping[str, Amount] = field(default_factory=dict)

    def linked(self, link: Linker) -> AddOn:
        """With the amount for each cup it is given for."""
        assert self.amount is not None
        component, amounts = self.component, {}
        if component.behaves == "ice":
            message = f"add-on '{self.id}' is ice, which is an option of its own"
            link.stop("OPT03", self.written("topping").span, message)
        link.known_sizes(self.amount)
        for cup_id in link.section("cups"):
            given = self.amount.get(cup_id)
            if given and (measured := amount(link, given, component, component.tool)):
                amounts[cup_id] = measured
        name = self.name if self.says("name") else component.name
        straw = self.straw or straw_of(self.packaging)
        return replace(self, name=name, amounts=amounts, straw=straw)


AddOnRef = Annotated[AddOn, Ref("add-on", "add_ons")]
