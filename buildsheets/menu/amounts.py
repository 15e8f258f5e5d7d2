"""A written amount, its ingredient and its tool go in; grams and ml of it, or a finding, out."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.findings.finding import Label, Located
from buildsheets.findings.spelling import listed
from buildsheets.menu.components import HEAPED, Component
from buildsheets.menu.equipment import HOLDS_HINT, PULLS, Tool
from buildsheets.menu.linker import Linker
from buildsheets.menu.quantity import Quantity, unknown_unit
from buildsheets.menu.schema import DRINK_AMOUNTS, Written
from buildsheets.menu.units import COUNTED_WITH
from buildsheets.menu.values import write

SHOT_HINT = "add shot: {dose: 18 g, yield: 36 g, for: 28 s}, as it is pulled"


@dataclass(frozen=True, slots=True)
class Amount:
    """How much a step adds, in one cup; ``mass_g`` and ``volume_ml`` are of the true material.

    ``count`` is the number of tool counts written ("2 pumps"), else ``None``. A floated cap's
    ``volume_ml`` is aerated, a settled topping's is bulk.
    """

    mass_g: float
    volume_ml: float
    count: float | None
    written: Written


def amount(
    link: Linker, given: Located[Quantity], component: Component, tool: Tool | None
) -> Amount | None:
    """A written amount as grams and ml of this component, or a finding and ``None``.

    ml of a floated cap are aerated ml; ml of a settled topping or of ice are bulk ml.
    """
    quantity = given.value
    count: float | None = None
    if component.shot is not None and quantity.unit != "shot":
        message = f"'{given.raw}' of '{component.id}', which is pulled and counted in shots"
        labels = (Label(component.shot.span, "pulled so"),)
        link.error("SHOT01", given.span, message, "write 1 shot, or 2 shots", labels=labels)
        return None
    if tool is not None and tool.unit == "mm":
        message = (
            f"'{given.raw}' of '{component.id}', whose tool '{tool.id}' shows lines and no amounts"
        )
        labels = (Label(component.span, "declared here"),)
        hint = "pour it to a line with fill_to:, or name a tool that measures ml or g"
        link.error("TOOL02", given.span, message, hint, labels=labels)
        return None
    number, unit = quantity.value, "g" if quantity.kind == "mass" else "ml"
    if quantity.kind in ("tool", "pieces"):
        if tool is None or not tool.is_counted_in(quantity):
            _not_counted(link, given, component, tool)
            return None
        holds = tool.holds_ml if tool.holds_ml is not None else tool.holds_g
        if holds is None:
            message = f"'{given.raw}': nothing says what one {tool.kind} of '{tool.id}' holds"
            labels = (Label(tool.span, "the tool"),)
            hint = SHOT_HINT if tool.kind == PULLS else HOLDS_HINT
            link.error("TOOL01", given.span, message, hint, labels=labels)
            return None
        count, number = quantity.value, quantity.value * holds
        unit = "ml" if tool.holds_ml is not None else "g"
    per_ml = grams_per_ml(component)
    mass = number if unit == "g" else number * per_ml
    return Amount(mass, mass / per_ml, count, Written(given.raw, given.span))


def _not_counted(
    link: Linker, given: Located[Quantity], component: Component, tool: Tool | None
) -> None:
    """That the tool of a component is not counted so, in which words it is, and what to write."""
    quantity = given.value
    words = tool.counts(quantity.value) if tool else ()
    number = f"{quantity.magnitude.normalize():f}"
    labels = (Label(component.span, "declared here"),)
    counted = f"write {listed(f'{number} {word}' for word in words)}"
    if quantity.kind == "pieces" and quantity.unit != "piece":
        wrong = unknown_unit(given.raw, number, quantity.unit, DRINK_AMOUNTS)
        by_hand = "For what is counted by hand name a tool of kind: hand with step: 1 piece."
        fixes = [fix for one in wrong.choices for fix in write(one.write, given.span, one.because)]
        if tool and words and not fixes:
            fixes += write(f"{number} {words[0]}", given.span, f"as '{tool.id}' is counted")
        hint = counted if words else f"{wrong.hint} {by_hand}"
        link.error("VAL08", given.span, wrong.message, hint, labels=labels, fixes=tuple(fixes))
        return
    has = f"is measured with '{tool.id}', a {tool.kind}" if tool else "has no tool"
    has = f"is counted by hand, with '{tool.id}'" if tool and tool.kind == "hand" else has
    kind = COUNTED_WITH.get(quantity.unit, quantity.unit)
    hint = f"name a tool of kind {kind}, or write ml or g"
    if quantity.kind == "pieces":
        hint = "name a tool of kind: hand with step: 1 piece, or write ml or g"
    hint = f"{counted}, {hint}" if words else hint
    if kind == PULLS:
        hint = f"{SHOT_HINT}; {hint}"
    message = f"'{given.raw}' of '{component.id}', which {has}"
    link.error("TOOL02", given.span, message, hint, labels=labels)


def grams_per_ml(component: Component) -> float:
    """Grams in one ml as it is measured out: bulk ml of beds and ice, aerated ml of caps."""
    if component.behaves in HEAPED and component.bulk_density_g_ml is not None:
        return component.bulk_density_g_ml
    if component.behaves == "ice" and component.packing is not None:
        return component.density_g_ml * component.packing
    return component.density_g_ml / (1.0 + component.overrun_pct / 100.0)
