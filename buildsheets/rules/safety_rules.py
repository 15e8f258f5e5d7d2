"""Rules about heat, gas and children; a menu and its servings in, findings out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Finding, Label, Severity
from buildsheets.menu.components import HEAPED
from buildsheets.menu.model import EMPTIES, AddOn, AddStep, Batch, Component, DoStep, Menu, Swap
from buildsheets.menu.tables import SCALD_C, VERY_HOT_C
from buildsheets.prep.batches import Item
from buildsheets.rules.amounts import degrees, other_ice, with_chosen
from buildsheets.rules.registry import each_serving, each_way, found, rule

NOT_FOR_CHILDREN: Mapping[str, str] = {
    "choking": "children up to 4 above all can draw it into the airway",
    "caffeine": "3 mg a kg of body weight is the most for children, 45 mg at 15 kg",
    "alcohol": "none for children",
    "raw-egg": "not for small children",
}
"""What a drink for children may not have, and why: BfR 2012 (topping pearls: up to 4 years above
all); EFSA Journal 2015;13(5):4102 (3 mg/kg; 15 kg is about a child of three, from memory); alcohol
and raw egg, common practice, no source."""


SHUT_IN = {"shake": "shaken in a closed shaker", "blend": "blended in a closed blender"}
"""Actions in a closed vessel, in words."""


@rule("HOT04", "hot-in-closed-shaker", Severity.ERROR, each_way)
def hot_in_closed_shaker(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """Something hot is shaken in a closed shaker, or blended in a closed blender.

    At the counter: steam and warm air press the lid off, and the drink scalds whoever holds it.
    Cool the base first, or stir it in an open jug. A shot may be shaken that runs onto ice in the
    open shaker, where ice is left for every choice: it is cold before the lid goes on.

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
        cooled = component.shot and _cooled_by_ice(serving, component, shake)
        if component.poured_c > SCALD_C and not cooled:
            poured_at = degrees(component.poured_c, menu.shop)
            yield found(
                shake.span,
                f"'{component.id}' is {poured_at} and is {SHUT_IN[shake.action]}"
                f"; above {degrees(SCALD_C, menu.shop)} it scalds when the lid lifts",
                "put more ice in before it, also where a guest asks for less"
                if component.shot
                else "cool it before, or stir it in an open jug: do: stir",
                labels=(Label(component.span, f"poured at {poured_at}"),),
            )


def _cooled_by_ice(serving: Serving, component: Component, shake: DoStep) -> bool:
    """Whether a component goes onto ice in the shaker or the blender, and ice is left when it has
    run, whatever a guest chooses."""
    for made in (serving, *serving.choices.made):
        ice_first, ice = True, False
        for figure in made.steps:
            step, used, chilled = figure.step, figure.used, figure.chilled
            if isinstance(step, AddStep) and used and step.into != "cup":
                ice = ice or (step.component.behaves == "ice" and used.mass_g > 0)
                ice_first = ice_first and (ice or step.component.id != component.id)
            if step is shake and not (ice_first and chilled and chilled.ice_left_g > 0.0):
                return False
    return True


@rule("HOT05", "served-very-hot", Severity.WARNING, each_way)
def served_very_hot(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """A finished drink is above 65 °C.

    At the counter: it burns the mouth, and very hot drinks are probably carcinogenic. What is
    figured is the mixture of everything in the cup, with as little ice as a guest may ask for, and
    with each add-on; a cold cup takes a little more.

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
    drink = serving.drink
    hot = [one for one in serving.offered if one.component.poured_c > VERY_HOT_C]
    added = (step.component for step in drink.steps if isinstance(step, AddStep))
    if not hot and all(component.poured_c <= VERY_HOT_C for component in added):
        return
    for made in serving.with_least_ice.with_each(hot):
        contents = made.final.contents
        if contents.liquid_g <= 0.0 or contents.has_ice:
            continue
        drink_c = contents.heat_g_c / contents.liquid_g
        if drink_c > VERY_HOT_C:
            yield found(
                drink.span,
                f"'{drink.id}' in {serving.cup.id}{with_chosen(made)} is about {drink_c:.0f} °C "
                f"when it is handed over{other_ice(made)}, above {VERY_HOT_C:g} °C",
                "pour what is hottest at a lower temperature:, or let it stand before it is served",
            )
            return


@rule("GAS01", "fizz-shaken", Severity.ERROR, each_way)
def fizz_shaken(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """Something that holds gas is shaken or blended.

    At the counter: shaking drives the gas out at once; a closed shaker bursts open, a blender
    foams over. Shake or blend the rest, pour the soda last and stir once.

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
                f"'{component.id}' holds gas and is {SHUT_IN[shake.action]}: it bursts it open",
                f"add it after the {shake.action}, into the cup, and stir once",
                labels=(Label(component.span, "fizzy: yes"),),
            )


@rule("CHD01", "not-for-children", Severity.ERROR, each_serving)
def not_for_children(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """A drink or cup for children holds, or offers, what children should not have.

    At the counter: a parent takes "for children" at its word. Pearls and other small toppings can
    be drawn into the airway, by children up to the age of four above all; of caffeine, 3 mg a kg
    of body weight is the most that gives no concern. What is in the drink and what is offered with
    it count, whichever choice brings it. A shop that has a reason writes it down.

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
    brings: dict[str, list[str]] = {key: [drink.id] for key in drink.cautions}
    added = [step for step in drink.steps if isinstance(step, AddStep) and cup.id in step.amounts]
    asked: list[Component | AddOn | Swap] = [*(step.component for step in added), *serving.offered]
    for one in [*{entry.id: entry for entry in asked}.values(), *drink.swaps]:
        for key in _asks_care(one if isinstance(one, Component) else one.component):
            brings.setdefault(key, []).append(one.id)
    for key, why in NOT_FOR_CHILDREN.items():
        if key in brings and key not in drink.allowed_for_children:
            yield found(
                drink.span,
                f"'{drink.id}' in {cup.id} is for children and has {key} ({why}): "
                f"{', '.join(brings[key])}",
                f"leave it out there, or give the reason: "
                f"allowed_for_children: {{{key}: why it is all right}}",
            )


def _asks_care(component: Component) -> set[str]:
    """The cautions a component needs where children drink it, said or not: a topping of loose
    pieces can choke, and caffeine and alcohol count at whatever depth of batches. A leaf that is
    brewed and has no figure is taken to hold caffeine."""
    found_ = set(component.cautions)
    if component.behaves in HEAPED:
        found_.add("choking")
    waiting: list[tuple[Item | None, bool]] = [(component.source, False)]
    while waiting:
        item, brewed = waiting.pop()
        if isinstance(item, Batch):
            brew = item.brew.id if item.brew else ""
            waiting += [(part.item, part.item.id == brew) for part in item.parts]
        elif item is not None:
            facts = item.nutrition
            caffeine = facts.caffeine_mg if facts else None
            if caffeine or (brewed and caffeine is None):
                found_.add("caffeine")
            if facts and facts.alcohol_g:
                found_.add("alcohol")
    return found_


def _shaken(serving: Serving) -> Iterator[tuple[Component, DoStep]]:
    """What is in the shaker at each shake, and in the blender at each blend, as written; then each
    liquid add-on that goes there."""
    liquid = (one for one in serving.offered if one.component.behaves == "liquid")
    for made in serving.with_each(liquid):
        inside: list[Component] = []
        for figure in made.steps:
            step = figure.step
            if isinstance(step, AddStep):
                new = figure.add_on is not None or made is serving
                if new and step.into != "cup" and figure.used and figure.used.mass_g > 0:
                    inside.append(step.component)
            elif step.action in EMPTIES:
                if step.action in SHUT_IN:
                    yield from ((component, step) for component in inside)
                inside = []
