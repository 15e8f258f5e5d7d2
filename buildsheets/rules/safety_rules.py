"""Rules about heat, gas and children; a menu and its servings in, findings out."""

from __future__ import annotations

from collections.abc import Iterator

from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Finding, Label, Severity
from buildsheets.menu.model import AddOn, AddStep, Component, DoStep, Menu, Swap
from buildsheets.menu.tables import SCALD_C, VERY_HOT_C
from buildsheets.prep.nutrition import AT_MOST, content_of
from buildsheets.rules.amounts import with_swaps
from buildsheets.rules.registry import each_serving, each_way, found, rule

NOT_FOR_CHILDREN = ("choking", "caffeine", "alcohol", "raw-egg")
"""Cautions that a drink for children may not carry: EFSA Journal 2015;13(5):4102 (caffeine), BfR
2012 (topping pearls and small children); alcohol and raw egg, common practice, no source."""


@rule("HOT04", "hot-in-closed-shaker", Severity.ERROR, each_way)
def hot_in_closed_shaker(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """Something hot is shaken in a closed shaker.

    At the counter: steam and warm air press the lid off, and the drink scalds whoever shakes it.
    Cool the base first, or stir it in an open jug.

    Trips it::

        bases:
          tea: {temperature: 85 °C, cautions: [hot]}
        drinks:
          cloud:
            build:
              - {add: tea, amount: 100 ml, into: shaker, station: bar}
              - {do: shake, pour: dumped, station: bar}

    Fixed::

        bases:
          tea: {temperature: 5 °C}
        drinks:
          cloud:
            build:
              - {add: tea, amount: 100 ml, into: shaker, station: bar}
              - {do: shake, pour: dumped, station: bar}

    Source: US Consumer Product Safety Commission, document 5098 (60 °C burns in 6 s); that a
    warm closed vessel opens by itself is common practice, no source.
    """
    for component, shake in _shaken(serving):
        if component.temperature_c is not None and component.temperature_c > SCALD_C:
            yield found(
                shake.span,
                f"'{component.id}' is {component.temperature_c:g} °C and is shaken in a closed "
                f"shaker; above {SCALD_C:g} °C it scalds when the lid lifts",
                "cool it before, or stir it in an open jug: do: stir",
                labels=(Label(component.span, f"poured at {component.temperature_c:g} °C"),),
            )


@rule("HOT05", "served-very-hot", Severity.WARNING, each_way)
def served_very_hot(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """A finished drink is above 65 °C.

    At the counter: it burns the mouth, and very hot drinks are probably carcinogenic. What is
    figured is the mixture of everything in the cup; a cold cup takes a little more.

    Trips it::

        bases:
          tea: {temperature: 90 °C, cautions: [hot]}
          plain-milk: {temperature: 60 °C}

    Fixed::

        bases:
          tea: {temperature: 70 °C, cautions: [hot]}
          plain-milk: {temperature: 60 °C}

    Source: IARC Monographs volume 116 (2018): very hot beverages, above 65 °C, group 2A.
    """
    contents = serving.final.contents
    if contents.liquid_g <= 0.0 or contents.has_ice:
        return
    drink_c = contents.heat_g_c / contents.liquid_g
    if drink_c > VERY_HOT_C:
        yield found(
            serving.drink.span,
            f"'{serving.drink.id}' in {serving.cup.id}{with_swaps(serving)} is about "
            f"{drink_c:.0f} °C when it is handed over, above {VERY_HOT_C:g} °C",
            "pour what is hottest at a lower temperature:, or let it stand before it is served",
        )


@rule("GAS01", "fizz-shaken", Severity.ERROR, each_way)
def fizz_shaken(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """Something that holds gas is shaken.

    At the counter: shaking drives the gas out at once; a closed shaker bursts open. Shake the
    rest, pour the soda last and stir once.

    Trips it::

        bases:
          tea: {fizzy: yes}
        drinks:
          cloud:
            build:
              - {add: tea, amount: 100 ml, into: shaker, station: bar}
              - {do: shake, pour: dumped, station: bar}

    Fixed::

        bases:
          tea: {fizzy: yes}
        drinks:
          cloud:
            build:
              - {add: plain-milk, amount: 100 ml, into: shaker, station: bar}
              - {do: shake, pour: dumped, station: bar}
              - {add: tea, amount: 100 ml, makes_room: yes, station: bar}

    Source: common practice, no source.
    """
    for component, shake in _shaken(serving):
        if component.fizzy:
            yield found(
                shake.span,
                f"'{component.id}' holds gas and is shaken: it bursts the shaker open",
                "add it after the shake, into the cup, and stir once",
                labels=(Label(component.span, "fizzy: yes"),),
            )


@rule("CHD01", "not-for-children", Severity.ERROR, each_serving)
def not_for_children(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """A drink or cup for children holds, or offers, what children should not have.

    At the counter: a parent takes "for children" at its word. Pearls and other small toppings can
    be drawn into the airway up to the age of four and beyond; caffeine has no known safe amount
    for small children. A shop that has a reason writes it down.

    Trips it::

        drinks:
          cloud: {for_children: yes, cautions: [caffeine]}

    Fixed::

        drinks:
          cloud: {for_children: yes}

    Source: EFSA Journal 2015;13(5):4102 (caffeine); German Federal Institute for Risk Assessment
    (BfR), 3 August 2012 (topping pearls).
    """
    drink, cup = serving.drink, serving.cup
    if not (drink.for_children or cup.for_children):
        return
    allowed = drink.allowed_for_children
    whose = {used.component.id: used.component for used in serving.used}
    brings: dict[str, list[str]] = {key: [drink.id] for key in drink.cautions}
    asked: list[Component | AddOn | Swap] = [*whose.values(), *serving.offered, *drink.swaps]
    for one in asked:
        component = one if isinstance(one, Component) else one.component
        cautions = set(component.cautions)
        if content_of(component, AT_MOST).value:
            cautions.add("caffeine")
        for key in cautions:
            brings.setdefault(key, []).append(one.id)
    for key in NOT_FOR_CHILDREN:
        if key in brings and key not in allowed:
            yield found(
                drink.span,
                f"'{drink.id}' in {cup.id} is for children and has {key}: {', '.join(brings[key])}",
                f"leave it out there, or give the reason: "
                f"allowed_for_children: {{{key}: why it is all right}}",
            )


def _shaken(serving: Serving) -> Iterator[tuple[Component, DoStep]]:
    """What is in the shaker at each shake."""
    inside: list[Component] = []
    for figure in serving.steps:
        step = figure.step
        if isinstance(step, AddStep):
            if step.into == "shaker" and figure.used is not None and figure.used.mass_g > 0:
                inside.append(step.component)
        elif step.action == "shake":
            yield from ((component, step) for component in inside)
            inside = []
        elif step.action == "pour":
            inside = []
