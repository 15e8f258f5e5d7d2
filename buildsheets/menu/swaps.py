"""Swaps, what a guest may have in the place of a base or sweetener: checked as they are linked."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Annotated

from buildsheets.findings.finding import Label
from buildsheets.menu.components import UNNAMED, ComponentRef
from buildsheets.menu.linker import Linker
from buildsheets.menu.options import AddOn
from buildsheets.menu.schema import FROM_0, Entry, Ref, Text, key, maybe

if TYPE_CHECKING:
    from buildsheets.menu.drinks import Drink

SWAPS_MOST = 2
"""More than two swaps in one order are not figured: a guest asks for another milk, and at most for
another syrup besides (common practice, no source)."""

SWAPPED = ("base", "sweetener")
"""What may be swapped: what is poured. Another topping makes another drink."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Swap(Entry):
    """A base or sweetener a guest may have in the place of another: oat drink for milk.

    As many ml go in of it as of what it replaces, counted with its own tool; an amount written in
    grams stays so many grams.
    """

    component: ComponentRef = key("the base or sweetener that goes in", "with")
    replaced: ComponentRef = key("the base or sweetener whose place it takes", "of")
    name: Text = key("what the guest calls it, if not by what goes in", default=UNNAMED)
    price: Decimal | None = maybe("what it adds to the price; 0 for nothing", within=FROM_0)

    def linked(self, link: Linker) -> Swap:
        """Checked: one base for another, or one sweetener for another."""
        new, old = self.component, self.replaced
        if old.role not in SWAPPED or new.role != old.role or new.id == old.id:
            kind = "the same" if new.id == old.id else f"which is of {_section(old.role)}"
            link.stop(
                "SWP01",
                self.written("with").span,
                f"swap '{self.id}' puts '{new.id}' of {_section(new.role)} in the place of "
                f"'{old.id}', {kind}",
                hint="a base takes the place of another base, a sweetener of another sweetener",
                labels=(Label(new.span, "goes in"), Label(old.span, "is replaced")),
            )
        return replace(self, name=self.name if self.says("name") else new.name)


def _section(role: str) -> str:
    return "ice" if role == "ice" else f"{role}s"


SwapRef = Annotated[Swap, Ref("swap", "swaps")]


def swaps_of(link: Linker, drink: Drink, inside: Collection[str]) -> tuple[Swap, ...]:
    """The swaps a drink is offered with, by the ids of what is in it; each told from the others
    and from its add-ons by a name of its own."""
    every: dict[str, Swap] = link.section("swaps")
    listed = {swap.id: swap for swap in drink.swaps}
    for swap in listed.values():
        if swap.replaced.id not in inside:
            link.error(
                "SWP02",
                drink.at("swaps"),
                f"'{drink.id}' is offered with swap '{swap.id}', and has no '{swap.replaced.id}' "
                "whose place it could take",
                hint="take it out of the list, or add a swap of what is in the drink",
                labels=(Label(swap.span, "the swap"),),
            )
    asked = listed if drink.says("swaps") else every
    offered = tuple(swap for swap in asked.values() if swap.replaced.id in inside)
    named: dict[str, Swap | AddOn] = {}
    candidates: list[Swap | AddOn] = [*drink.add_ons, *offered]
    for one in candidates:
        for name in one.name.by_language.values():
            other = named.setdefault(name, one)
            if isinstance(one, Swap) and other is not one:
                link.error(
                    "SWP03",
                    one.at("name"),
                    f"'{drink.id}' is offered with '{other.id}' and '{one.id}', both called "
                    f"'{name}'",
                    hint="give one of them a name of its own",
                    labels=(Label(other.at("name"), "the other"), Label(drink.span, "here")),
                )
    return offered
