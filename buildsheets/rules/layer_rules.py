"""Rules of drinks in layers: each liquid lighter than the one under it, and nothing that mixes."""

from __future__ import annotations

from collections.abc import Iterator

from buildsheets.cup.serving import Serving, StepFigure
from buildsheets.cup.strata import APART_G_ML, STIRS, Stratum
from buildsheets.findings.finding import Finding, Label, Severity, SumLine
from buildsheets.menu.model import EMPTIES, AddStep, Drink, Menu, Step
from buildsheets.rules.amounts import place, what
from buildsheets.rules.registry import each_build, each_order, found, rule


@rule("LAY01", "layers-run-together", Severity.WARNING, each_order)
def layers_run_together(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """In a drink served in layers each liquid is lighter than the one it is poured onto.

    Compares the density of each liquid that comes into the cup with the uppermost that stands in
    it, also with each add-on. One that is not lighter sinks through it; one lighter by less than
    0.01 g/ml, which is about 2.5 degrees Brix, runs together with it under any hand.

    At the counter: the guest paid for three colours and gets one. Ice, or the back of a spoon,
    breaks the fall of the pour and keeps layers sharp; it makes nothing lighter.

    Trips it::

        drinks:
          cloud:
            layered: yes
            build:
              - {add: tea, amount: 100 ml, station: bar}
              - {add: plain-milk, amount: 200 ml, station: bar}

    Fixed::

        drinks:
          cloud:
            layered: yes
            build:
              - {add: plain-milk, amount: 200 ml, station: bar}
              - {add: tea, amount: 100 ml, station: bar}

    Source: hydrostatics, the lighter liquid on top; the limit of 0.01 g/ml is common practice, no
    source. It is the same from which a drawing shows two liquids as one.
    """
    if not serving.drink.layered:
        return
    held = Stratum(0.0, 0.0)
    under: Stratum | None = None
    below = ""
    for figure in serving.steps:
        contents = figure.state.contents
        came = Stratum(contents.liquid_ml - held.ml, contents.liquid_g - held.g)
        held = Stratum(contents.liquid_ml, contents.liquid_g)
        if came.ml > 1e-9:
            apart = under.density_g_ml - came.density_g_ml if under else 1.0
            if under is not None and apart <= APART_G_ML:
                yield _run_together(serving, figure, came.density_g_ml, under.density_g_ml, below)
            name = figure.add_on.id if figure.add_on else what(figure.step)
            below = f"{name} (step {figure.number})"
        under = contents.strata[-1] if contents.strata else None


def _run_together(
    serving: Serving, figure: StepFigure, upper: float, lower: float, below: str
) -> Finding:
    """That a liquid does not stay on what it is poured onto, and what would let it."""
    name, gap = figure.add_on.id if figure.add_on else what(figure.step), lower - upper
    why = f"only {gap:.3f} g/ml lighter" if gap > 0.0 else "not lighter"
    does = "runs together with it" if gap > 0.0 else "sinks through it"
    ice = figure.state.contents.has_ice
    guard = "the ice in the cup breaks" if ice else "ice, or the back of a spoon, would break"
    return found(
        figure.step.span,
        f"{place(serving)}: {name} (step {figure.number}, {upper:.3f} g/ml) is {why} than what it "
        f"is poured onto ({lower:.3f} g/ml) and {does}; {APART_G_ML:g} g/ml is the least",
        f"pour {name} before {below}, take at least {upper + APART_G_ML:.3f} g/ml under it (more "
        f"syrup there), or at most {lower - APART_G_ML:.3f} g/ml for it; {guard} the fall and "
        "makes nothing lighter",
        sums=(
            SumLine(f"under it: {below}", "", "", f"{lower:.3f} g/ml"),
            SumLine(name, "", "", f"{upper:.3f} g/ml", figure.step.span),
        ),
    )


@rule("LAY02", "layers-mixed", Severity.WARNING, each_build)
def layers_mixed(menu: Menu, drink: Drink) -> Iterator[Finding]:
    """A drink served in layers has two liquids at least, and nothing mixes them.

    Looks in a drink that says layered: yes for a stir, swirl or chill after its second liquid, for
    ice or a settled topping that falls through the layers, and for a second liquid at all.

    At the counter: the card shows layers and its last step stirs them; ice that drops in late
    mixes what it falls through. Ice goes in before the layers: it breaks the fall of the pours.

    Trips it::

        drinks:
          cloud:
            layered: yes
            build:
              - {add: plain-milk, amount: 200 ml, station: bar}
              - {add: tea, amount: 100 ml, station: bar}
              - {do: stir, station: bar}

    Fixed::

        drinks:
          cloud:
            layered: yes
            build:
              - {add: plain-milk, amount: 200 ml, station: bar}
              - {add: tea, amount: 100 ml, station: bar}

    Source: common practice, no source.
    """
    if not drink.layered:
        return
    poured: list[int] = []
    for number, step in enumerate(drink.steps, start=1):
        if _pours(step):
            poured.append(number)
        elif len(poured) > 1 and _mixes(step):
            second = drink.steps[poured[1] - 1]
            yield found(
                step.span,
                f"{drink.id} is served in layers, and {what(step)} (step {number}) mixes them",
                f"write it before step {poured[1]} ({what(second)}), or leave layered: yes out",
                labels=(Label(second.span, f"step {poured[1]}"),),
                subject=(drink.id,),
            )
            return
    if len(poured) < 2:
        yield found(
            drink.at("layered"),
            f"{drink.id} is served in layers, and only one liquid comes into its cup",
            "leave layered: yes out",
            subject=(drink.id,),
        )


def _pours(step: Step) -> bool:
    """Whether a step brings a liquid into the cup."""
    if isinstance(step, AddStep):
        return step.into == "cup" and step.component.behaves == "liquid"
    return step.action in EMPTIES


def _mixes(step: Step) -> bool:
    if isinstance(step, AddStep):
        return step.into == "cup" and step.component.behaves in ("ice", "settled")
    return step.action in STIRS
