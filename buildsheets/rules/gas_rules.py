"""Rules about what holds gas: poured last, stirred once, not closed; that it is never shaken is
GAS01, among those of safety. Each looks at every swap and add-on too."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import dropwhile

from buildsheets.cup.serving import Serving, StepFigure
from buildsheets.findings.finding import Finding, Label, Severity
from buildsheets.menu.model import EMPTIES, AddStep, Menu, Step
from buildsheets.rules.amounts import what, with_chosen
from buildsheets.rules.registry import each_order, found, rule

STIRS_OUT = ("stir", "swirl", "tap", "chill")
"""Actions that drive gas out of a drink; common practice, no source."""


@rule("GAS02", "fizz-not-last", Severity.WARNING, each_order)
def fizz_not_last(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """Soda is poured last: syrup and ice that fall into it drive its gas out and make it foam over.

    Looks for ice, a settled topping, a liquid without gas or a pour from the shaker that comes into
    the cup after something fizzy. Foam and powder on top are another matter, and so is what is
    poured gently on a drink in layers. Add-ons that are poured go in before the base.

    At the counter: ice dropped into soda foams over the rim, and what is left is flat. Syrup, then
    ice, then soda along the side of the cup.

    Trips it::

        bases:
          tea: {fizzy: yes}

    Fixed::

        bases:
          plain-milk: {fizzy: yes}

    Source: common practice, no source.
    """
    soda_on = dropwhile(lambda one: not _fizzy(one.step, "cup"), serving.steps)
    soda = next(soda_on, None)
    late = [one for one in soda_on if _falls_in(one.step, serving.drink.layered)]
    if soda is not None and late:
        name, last = what(soda.step), late[-1]
        yield found(
            late[0].step.span,
            f"{_order(serving)}: {_named(late[0])} goes into {_named(soda)}, which holds gas: it "
            "foams up and goes flat",
            f"write {name} after step {last.number} ({what(last.step)})"
            if soda.add_on is None
            else f"an add-on is poured before {what(serving.body.step)}: offer {name} as a swap, "
            "or in a drink of its own",
            labels=(Label(soda.step.span, f"step {soda.number}"),),
            subject=(serving.drink.id,),
        )


@rule("GAS03", "fizz-stirred-flat", Severity.WARNING, each_order)
def fizz_stirred_flat(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """Soda is stirred once at most: each stir drives gas out.

    Counts the stirs, swirls, taps and chills after something fizzy is in the cup.

    At the counter: two people stir the same cup, and the guest gets sweet water. Stir what is
    under the soda before it, and once after it.

    Trips it::

        bases:
          plain-milk: {fizzy: yes}
        drinks:
          cloud:
            build:
              - {add: tea, amount: 100 ml, station: bar}
              - {add: plain-milk, amount: 200 ml, station: bar}
              - {do: stir, station: bar}
              - {do: swirl, station: bar}

    Fixed::

        bases:
          plain-milk: {fizzy: yes}
        drinks:
          cloud:
            build:
              - {add: tea, amount: 100 ml, station: bar}
              - {add: plain-milk, amount: 200 ml, station: bar}
              - {do: stir, station: bar}

    Source: common practice, no source.
    """
    soda_on = dropwhile(lambda one: not _fizzy(one.step, "cup"), serving.steps)
    moved = [one for one in soda_on if one.used is None and what(one.step) in STIRS_OUT]
    if len(moved) > 1:
        yield found(
            moved[1].step.span,
            f"{_order(serving)}: its soda is moved {len(moved)} times: "
            f"{', '.join(map(_named, moved))}; once at most keeps the gas in",
            "leave all but one out, or write them before the soda",
            subject=(serving.drink.id,),
        )


@rule("GAS04", "fizz-closed", Severity.WARNING, each_order)
def fizz_closed(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """Nothing that holds gas goes into a shaker, not even unshaken, or is moved in a closed cup.

    Looks for something fizzy that is poured from the shaker, and for a swirl, tap or chill after
    the lid of a cup with soda in it. One that is shaken is GAS01.

    At the counter: somebody closes the shaker out of habit and it bursts open; a closed cup that
    is turned pushes foam out at the straw, or lifts the film.

    Trips it::

        bases:
          tea: {fizzy: yes}
        drinks:
          cloud:
            build:
              - {add: tea, amount: 100 ml, into: shaker, station: bar}
              - {do: pour, station: bar}
              - {add: plain-milk, amount: 50 ml, into: cup, makes_room: no, station: bar}

    Fixed::

        bases:
          tea: {fizzy: yes}
        drinks:
          cloud:
            build:
              - {add: plain-milk, amount: 100 ml, into: shaker, station: bar, makes_room: no}
              - {do: pour, station: bar}
              - {add: tea, amount: 100 ml, station: bar}

    Source: common practice, no source.
    """
    in_shaker: AddStep | None = None
    soda, lid = False, False
    for figure in serving.steps:
        step = figure.step
        if isinstance(step, AddStep):
            soda = soda or _fizzy(step, "cup")
            in_shaker = step if in_shaker is None and _fizzy(step, "shaker") else in_shaker
            continue
        if step.action == "pour" and in_shaker is not None:
            yield found(
                in_shaker.span,
                f"{_order(serving)}: {what(in_shaker)} holds gas and goes into the shaker, out of "
                f"it at step {figure.number}; closed, it bursts open",
                "pour it into the cup, last",
                subject=(serving.drink.id,),
            )
        in_shaker = None if step.action in EMPTIES else in_shaker
        if lid and soda and step.action in STIRS_OUT:
            yield found(
                step.span,
                f"{_order(serving)}: {_named(figure)} moves a closed cup with soda in it: foam "
                "comes out at the straw or lifts the film",
                "write it before the lid",
                subject=(serving.drink.id,),
            )
        lid = lid or (step.action == "lid" and serving.cup.lid != "none")


def _order(serving: Serving) -> str:
    return f"{serving.drink.id}{with_chosen(serving)}"


def _named(figure: StepFigure) -> str:
    return f"{what(figure.step)} (step {figure.number})"


def _fizzy(step: Step, vessel: str) -> bool:
    return isinstance(step, AddStep) and step.into == vessel and step.component.fizzy


def _falls_in(step: Step, layered: bool) -> bool:
    """Whether a step brings into the cup what makes soda foam; what is laid on it does not."""
    if not isinstance(step, AddStep):
        return step.action in EMPTIES and not layered
    kinds = ("ice", "settled") if layered else ("ice", "settled", "liquid")
    return step.into == "cup" and step.component.behaves in kinds and not step.component.fizzy
