"""Rules about a drink's steps: what floats, what is closed, what a dome is for, shared ice."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from buildsheets.cup.serving import add_ons_for
from buildsheets.cup.steps import MOVES
from buildsheets.findings.finding import Finding, Label, Severity
from buildsheets.menu.model import EMPTIES, AddStep, Drink, Menu, Step
from buildsheets.rules.amounts import what
from buildsheets.rules.registry import each_build, found, rule

NEEDS_OPEN_CUP = ("stir", *EMPTIES)
"""Actions that reach into the cup; a closed one may still be swirled or left to chill."""


def _in_cup(step: Step, *behaves: str) -> bool:
    """Whether a step puts something in the cup, and, where kinds are named, one of them."""
    if not isinstance(step, AddStep) or step.into != "cup":
        return False
    return not behaves or step.component.behaves in behaves


def _sinks_a_cap(step: Step) -> bool:
    if isinstance(step, AddStep):
        base = step.component.role == "base" and step.into == "cup"
        return base or _in_cup(step, "ice", "settled")
    return step.action in MOVES


@rule("ORD01", "floated-topping-sinks", Severity.WARNING, each_build)
def floated_topping_sinks(menu: Menu, drink: Drink) -> Iterator[Finding]:
    """A floated topping goes on last: nothing may stir, swirl or pour it under.

    Checks the steps after a floated topping for a stir, swirl, shake, pour, blend or chill, and
    for a base, ice or a settled topping added to the cup.

    At the counter: the barista spoons the foam on and stirs it in; the card shows a layer that is
    not there, and the drink stands lower than its line.

    Trips it: foam, then do: stir, then the lid.
    Fixed: do: stir, then the foam, then the lid.

    Source: common practice, no source.
    """
    floated = [i for i, step in enumerate(drink.steps) if _in_cup(step, "floated")]
    for at in floated:
        after = [i for i, step in enumerate(drink.steps) if i > at and _sinks_a_cap(step)]
        if after:
            first, last = drink.steps[after[0]], drink.steps[after[-1]]
            yield found(
                drink.steps[at].span,
                f"{drink.id}: {what(drink.steps[at])} floats at step {at + 1}, and step "
                f"{after[0] + 1} ({what(first)}) would sink it",
                f"write it after step {after[-1] + 1} ({what(last)}), before the lid",
                labels=(Label(first.span, f"step {after[0] + 1}"),),
                subject=(drink.id,),
            )


@rule("ORD02", "added-after-the-lid", Severity.ERROR, each_build)
def added_after_the_lid(menu: Menu, drink: Drink) -> Iterator[Finding]:
    """The lid goes on last: nothing can be added to a closed cup, stirred or poured into it.

    Swirling a closed cup and letting it chill are allowed, as is a cup that has no lid.

    At the counter: somebody takes the lid off again for the foam, or leaves the foam out.

    Trips it: do: lid, then foam.
    Fixed: foam, then do: lid.

    Source: common practice, no source.
    """
    lid = _lid(drink)
    if lid is None or all(cup.lid == "none" for cup in drink.cups):
        return
    for at, step in enumerate(drink.steps[lid + 1 :], start=lid + 1):
        if _in_cup(step) or (not isinstance(step, AddStep) and step.action in NEEDS_OPEN_CUP):
            yield found(
                step.span,
                f"{drink.id}: step {at + 1} ({what(step)}) comes after the lid, step {lid + 1}",
                f"write do: lid after step {len(drink.steps)}",
                labels=(Label(drink.steps[lid].span, "the lid"),),
                subject=(drink.id,),
            )
            return


@rule("ORD03", "dome-left-off", Severity.WARNING, each_build)
def dome_left_off(menu: Menu, drink: Drink) -> Iterator[Finding]:
    """A drink with a floated topping in a cup with a dome needs a step that puts the dome on.

    At the counter: the card ends with the foam, the cup goes out open or under whatever lid is
    nearest, and a flat one presses the foam over the rim.

    Trips it: a cup with lid: dome, foam as the last step.
    Fixed: the foam, then do: lid; or a cup with lid: none.

    Source: common practice, no source.
    """
    if _lid(drink) is not None:
        return
    floated = [what(step) for step in drink.steps if _in_cup(step, "floated")]
    for dome in (cup for cup in drink.cups if cup.lid == "dome"):
        added = (one.id for one in add_ons_for(drink, dome) if one.component.behaves == "floated")
        name = next(chain(floated, added), None)
        if name is not None:
            yield found(
                drink.span,
                f"{drink.id}: {name} floats in cup {dome.id}, which has a dome, and no step puts "
                "the lid on",
                "write do: lid as the last step, or say lid: none at the cup",
                labels=(Label(dome.span, "the cup"),),
                subject=(drink.id,),
            )
            return


def _lid(drink: Drink) -> int | None:
    steps = enumerate(drink.steps)
    return next((i for i, s in steps if not isinstance(s, AddStep) and s.action == "lid"), None)


@rule("ORD04", "ice-in-hot-build", Severity.WARNING, each_build)
def ice_in_hot_build(menu: Menu, drink: Drink) -> Iterator[Finding]:
    """The hot build of a drink that is sold hot and iced has no ice.

    Steps without only: are shared by both builds, ice too.

    At the counter: the card of the hot cup says two scoops of ice, and whoever is new puts them in.

    Trips it: cups hot and iced, and {add: cubes, amount: 2 scoops} among the steps.
    Fixed: {add: cubes, amount: 2 scoops, only: iced}

    Source: common practice, no source.
    """
    for step in drink.steps if drink.served == "hot" else ():
        if isinstance(step, AddStep) and step.component.behaves == "ice" and not step.only:
            cups = ", ".join(cup.id for cup in drink.cups)
            yield found(
                step.span,
                f"{drink.id}: {what(step)} goes into the hot build too (in {cups})",
                "add only: iced to this step; where it is meant so, only: hot says it",
                subject=(drink.id,),
            )
