"""A drink and a guest's swaps go in; the drink as it is made with them comes out.

A swap goes in where the written base or sweetener would, at its station and into its vessel. Of an
amount in ml, or counted with a tool, as many ml go in; of one in grams, as many grams; of shots as
many shots; a line stays a line. A component that is part of a batch stays there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

from buildsheets.cup.errors import FigureError
from buildsheets.menu.amounts import grams_per_ml
from buildsheets.menu.model import AddStep, Amount, Drink, LineTo, Step, Swap, Tool
from buildsheets.menu.swaps import SWAPS_MOST


def swap_sets(drink: Drink) -> list[tuple[Swap, ...]]:
    """Every set of swaps a guest may have, none first: at most one in the place of a component."""
    return [
        chosen
        for count in range(min(SWAPS_MOST, len(drink.swaps)) + 1)
        for chosen in combinations(drink.swaps, count)
        if len({swap.replaced.id for swap in chosen}) == count
    ]


def swapped(drink: Drink, ids: Sequence[str]) -> Drink:
    """The drink with swaps, which is offered with no more of them.

    Raises ``FigureError`` for swaps it is not offered with.
    """
    if not ids:
        return drink
    chosen = next((one for one in swap_sets(drink) if _ids(one) == set(ids)), None)
    if chosen is None:
        raise FigureError("swaps", tuple(ids), f"{drink.id} is not offered with them")
    by_replaced = {swap.replaced.id: swap for swap in chosen}
    steps = tuple(_step(step, by_replaced.get(_added(step))) for step in drink.steps)
    return replace(drink, steps=steps, swaps=(), swapped=chosen, builds=())


def _ids(swaps: Sequence[Swap]) -> set[str]:
    return {swap.id for swap in swaps}


def _added(step: Step) -> str:
    return step.component.id if isinstance(step, AddStep) else ""


def _step(step: Step, swap: Swap | None) -> Step:
    """A step with what takes the place of its component, measured with the tool of that."""
    if swap is None or not isinstance(step, AddStep):
        return step
    new = swap.component
    own_tool = step.fill_to is not None or step.says("tool")
    tool = step.tool if own_tool else new.tool or step.tool
    amounts = {cup: _as_much(step, cup, swap, tool) for cup in step.amounts}
    note = step.note if step.says("note") else new.note
    return replace(step, component=new, amounts=amounts, tool=tool, note=note, swap=swap)


def _as_much(step: AddStep, cup: str, swap: Swap, tool: Tool | None) -> Amount | LineTo:
    """An amount as it goes in of another liquid, not yet to the step of its tool."""
    written = step.amounts[cup]
    if isinstance(written, LineTo):
        return written
    given = step.amount.get(cup) if step.amount else None
    per_ml = grams_per_ml(swap.component)
    weighed = given is not None and given.value.kind == "mass"
    mass = written.mass_g if weighed else written.volume_ml * per_ml
    count = None
    if written.count is not None and swap.component.shot and swap.replaced.shot:
        mass = written.count * swap.component.shot.out_g  # a shot for a shot
    volume = mass / per_ml
    if written.count is not None and tool is not None and tool.unit == "count":
        count = volume / tool.holds_ml if tool.holds_ml else mass / (tool.holds_g or mass)
    return Amount(mass, volume, count, written.written)
