"""Rules of drinks made in a blender; a menu and its servings in, findings out."""

from __future__ import annotations

from collections.abc import Iterator

from buildsheets.cup.blender import blended_ml, heaped_ml, holds_ml, in_blender_ml, most_base_ml
from buildsheets.cup.cup import FIT_TOLERANCE_ML
from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Finding, Severity, SumLine
from buildsheets.menu.model import Menu
from buildsheets.rules.amounts import choice_words, place, volume, what
from buildsheets.rules.registry import each_serving, found, rule


@rule("FIT12", "blender-too-small", Severity.ERROR, each_serving)
def blender_too_small(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """One drink must fit the blender, before it runs and after.

    Before it runs the ice is a heap with gaps; after it everything is one liquid with air in it.
    The fuller of the two is held against the upper mark of the blender, for every sweetness, ice
    and add-on that fits the cup.

    At the counter: the lid lifts and the drink runs down the motor; next time less goes in, and
    nobody knows how much.

    Trips it::

        stations:
          bar: {blender: 200 ml}
        drinks:
          shaken:
            build:
              - {add: sweet, amount: 2 pumps, into: blender}
              - {add: strong, amount: 200 ml, into: blender}
              - {add: cubes, amount: 2 scoops, into: blender}
              - {do: blend, air: 10 %, station: bar}

    Fixed::

        stations:
          bar: {blender: 800 ml}
        drinks:
          shaken:
            build:
              - {add: sweet, amount: 2 pumps, into: blender}
              - {add: strong, amount: 200 ml, into: blender}
              - {add: cubes, amount: 2 scoops, into: blender}
              - {do: blend, air: 10 %, station: bar}

    Source: sum of volumes; the mark is the maker's.
    """
    choices = serving.choices
    holds, fullest = holds_ml(choices.build), choices.fullest_in_blender_ml
    if fullest <= holds + FIT_TOLERANCE_ML:
        return
    fitting = [one.choice for one in choices.outcomes if one.verdict != "too-much"]
    fits = {choice: choices.fit(choice) for choice in (choices.default, *fitting)}
    choice = max(fits, key=lambda one: in_blender_ml(fits[one].build.steps, fits[one].after))
    fit = fits[choice]
    steps, after = fit.build.steps, fit.after
    heap, blended = heaped_ml(steps, after), blended_ml(steps, after)
    blend = next(step.step for step in steps if step.action == "blend")
    unit = serving.cup.volumes
    bigger = f"a blender that holds {volume(fullest, unit)}"
    most = most_base_ml(fit.build, after)
    base = what(serving.body.step)
    yield found(
        blend.span,
        f"{place(serving)}: the blender holds {volume(holds, unit)}, and with "
        f"{choice_words(choice)} it reads {volume(fullest, unit)}: "
        f"{volume(fullest - holds, unit)} too much",
        f"blend it with at most {volume(most, unit)} of {base}, or in {bigger}"
        if most
        else f"take {bigger}",
        sums=(
            SumLine("before it runs", "", unit.text(heap, 1), "the ice as a heap"),
            SumLine("after it", "", unit.text(blended, 1), "solid ice and air"),
            SumLine("the blender holds", "", unit.text(holds, 1)),
        ),
    )
