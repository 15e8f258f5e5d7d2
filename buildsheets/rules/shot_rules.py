"""Rules of espresso pulled to order; a menu and its servings in, findings out."""

from __future__ import annotations

from collections.abc import Iterator

from buildsheets.cup.serving import Serving
from buildsheets.cup.simulate import chilled_in
from buildsheets.findings.finding import Finding, Label, Severity
from buildsheets.menu.model import AddStep, Component, Menu
from buildsheets.rules.amounts import degrees, place
from buildsheets.rules.menu_rules import MELTS_C
from buildsheets.rules.registry import each_component, each_order, found, rule

RATIO, RATIO_LEAST, RATIO_MOST = 2.0, 1.0, 3.0
TIME_S, TIME_LEAST_S, TIME_MOST_S = "25 to 30 s", 20.0, 40.0
"""A shot gives twice its dose in 25 to 30 s; a short one as little as its dose, a long one up to
three times. Common practice, no source."""


@rule("SHOT02", "shot-unusual", Severity.NOTE, each_component)
def shot_unusual(menu: Menu, component: Component) -> Iterator[Finding]:
    """A shot gives less than its dose or more than three times, or runs very short or long.

    At the counter: 18 g of ground coffee that give 60 g in 15 s are ground too coarse and taste
    thin and sour; the figure may as well be a slip. Usual is twice the dose in 25 to 30 s.

    Trips it::

        bases:
          tea:
            shot: {dose: 18 g, yield: 60 g, for: 15 s}
            density: 1.02 g/ml
            temperature: 75 °C
            tool: portafilter
        tools:
          portafilter: {name: Portafilter, kind: portafilter, step: 1 shot}

    Fixed::

        bases:
          tea:
            shot: {dose: 18 g, yield: 36 g, for: 28 s}
            density: 1.02 g/ml
            temperature: 75 °C
            tool: portafilter
        tools:
          portafilter: {name: Portafilter, kind: portafilter, step: 1 shot}

    Source: common practice, no source.
    """
    shot = component.shot
    if shot is None:
        return
    ratio = shot.out_g / shot.dose_g
    odd = [
        *([f"1 to {ratio:.1f}"] if not RATIO_LEAST <= ratio <= RATIO_MOST else []),
        *([f"{shot.seconds:g} s"] if not TIME_LEAST_S <= shot.seconds <= TIME_MOST_S else []),
    ]
    if odd:
        yield found(
            shot.span,
            f"'{component.id}' gives {shot.out_g:g} g of {shot.dose_g:g} g in {shot.seconds:g} s: "
            f"{' and '.join(odd)} is unusual",
            f"usual is about {RATIO * shot.dose_g:g} g of {shot.dose_g:g} g in {TIME_S}",
        )


@rule("SHOT03", "shot-melts-ice", Severity.NOTE, each_order)
def shot_melts_ice(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """A shot goes onto ice and no step says that it chills, so that its heat is not counted.

    An extra shot counts as well.

    At the counter: 72 g of espresso at 75 degC bring the heat that melts 68 g of ice; the drink is
    that much thinner, and lower where the ice stood out of it. Over cold milk the heat is the same.

    Trips it: ice, 150 ml of milk, two shots, then do: stir.
    Fixed: the same with do: chill, which prints as "Stir until cold".

    Source: heat balance with IAPWS-95 and R10-06 figures; fill model section 4.
    """
    pulled: Component | None = None
    for figure in serving.steps:
        step = figure.step
        if isinstance(step, AddStep) and step.component.shot and figure.used:
            pulled = step.component
        elif figure.chilled is not None:
            pulled = None
    contents = serving.final.contents
    _, chilled = chilled_in(contents)
    if pulled is None or chilled is None or contents.heat_g_c > MELTS_C * contents.liquid_g:
        return  # what is warmer than that is an error of its own: HOT02
    poured_at = degrees(pulled.poured_c, menu.shop)
    hint = "add do: chill after the shot, in the place of do: stir"
    if serving.drink.layered:  # LAY02: what chills mixes
        hint = (
            "layers are not stirred: make it once and see that enough ice is left, or leave "
            "layered: yes out and add do: chill after the shot"
        )
    yield found(
        serving.drink.span,
        f"{place(serving)}: '{pulled.id}' and what it is poured on melt {chilled.melted_g:.0f} g "
        "of ice, and no step says that they chill, so that no level counts it",
        hint,
        labels=(Label(pulled.span, f"poured at {poured_at}"),),
    )
