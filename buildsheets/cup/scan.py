"""A drink and a cup go in; every choice a guest can make of them, each worked out once, comes out.

This is the figure stage: views, rules, costs and ``explain`` look their figures up in the
``Serving`` and its ``choices``.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import replace
from functools import cached_property
from itertools import combinations, groupby
from typing import Any, ClassVar, NamedTuple
from weakref import ref

from buildsheets.cup.blender import holds_ml, in_blender_ml
from buildsheets.cup.contents import levels
from buildsheets.cup.fill import FillState
from buildsheets.cup.fit import Fit, Fitter, default_choice, shares, sweetness_and_ice
from buildsheets.cup.serving import Choice, Serving, StepFigure, Used, add_ons_for
from buildsheets.cup.simulate import After, items_after
from buildsheets.cup.steps import BuildStep, build_of
from buildsheets.cup.swaps import swap_sets, swapped
from buildsheets.cup.tolerance import Spread
from buildsheets.menu.model import EMPTIES, AddStep, CupSize, Drink


class Outcome(NamedTuple):
    """One choice of a drink in a cup and how it comes out.

    ``taken``, ``hands_ml`` and ``thin`` are those of :class:`~buildsheets.cup.fit.Fit`.
    """

    choice: Choice
    verdict: str
    held_back_ml: float
    over_ml: float
    taken: float
    hands_ml: float
    thin: bool


def figure(drink: Drink, size: CupSize, choice: Choice | None = None) -> Serving:
    """The build of a drink in a cup for a choice (default: the one nobody asked to change).

    The default choice is never held back: if it does not fit, the recipe is wrong. Raises
    ``FigureError`` for what the fill model refuses, such as a line over the rim.
    """
    scan = Scan(drink, size)
    return scan[choice or scan.default]


def choices(drink: Drink, size: CupSize) -> Iterator[Choice]:
    """Every allowed combination of sweetness, ice, add-ons and swaps, the default's options first,
    all without swaps before those with some."""
    drink = drink.in_cup(size)
    offered = add_ons_for(drink, size)
    for swaps in swap_sets(drink):
        for count in range(min(drink.add_ons_at_most, len(offered)) + 1):
            for chosen in combinations(offered, count):
                for sweetness, ice in sweetness_and_ice(drink):
                    ids = (tuple(one.id for one in some) for some in (chosen, swaps))
                    yield Choice(sweetness, ice, *ids)


MOST_HELD = 64
"""Of so many drinks and cups what was worked out is held, up to some MB each: more than most menus
have, and few enough that a menu of thousands takes no more memory. Common practice, no source."""


class Scan:
    """All combinations of one drink in one cup; ``scan[choice]`` is the serving of one.

    Raises ``FigureError`` as :func:`figure` does. Each serving is worked out when it is first asked
    for, and held until ``MOST_HELD`` others were asked after it; ``fit(choice)``, the same in bare
    numbers, is not held. A drink with swaps is worked out as a drink of its own, ``with_swaps``,
    beside the one as written. ``told`` is for what is said of the drink on several cards.
    """

    _latest: ClassVar[deque[ref[Scan]]] = deque()  # those that hold something, the oldest first

    def __init__(self, drink: Drink, cup: CupSize, written: Scan | None = None) -> None:
        drink = drink.in_cup(cup)
        self.build = build_of(drink, cup)
        self.default = default_choice(drink)
        self._fitter: Fitter = Fitter(self.build, written._fitter if written else None)
        self._servings: dict[Choice, Serving] = {}
        self._with_swaps: dict[tuple[str, ...], Scan] = {}
        self._held = written is not None  # with what the drink as written holds
        self.told: dict[Any, Any] = {}

    def __getitem__(self, choice: Choice) -> Serving:
        serving = self._servings.get(choice)
        if serving is None:
            if choice.swaps:
                alone = self.with_swaps(choice.swaps)[replace(choice, swaps=())]
                serving = replace(alone, choice=choice, choices=self)
            else:
                serving = _serving(self, choice, self.fit(choice))
            self._servings[choice] = serving
        return serving

    def with_swaps(self, swaps: tuple[str, ...]) -> Scan:
        """The combinations of the drink as it is made with swaps."""
        if not self._held:
            self._hold()
        if not swaps:
            return self
        found = self._with_swaps.get(swaps)
        if found is None:
            drink = swapped(self.build.drink, swaps)
            found = self._with_swaps[swaps] = Scan(drink, self.build.size, written=self)
        return found

    def _hold(self) -> None:
        """Be among those that hold what they work out; the oldest of too many lets go of it."""
        self._held = True
        self._latest.append(ref(self))
        if len(self._latest) > MOST_HELD and (oldest := self._latest.popleft()()) is not None:
            oldest._forget()

    def _forget(self) -> None:
        """Let go of what was worked out: what is asked for again is worked out anew. Servings refer
        to their scan, so nothing would go before a search for cyclic garbage if they stayed."""
        self._held = False
        for scan in (self, *self._with_swaps.values()):
            scan._servings.clear()
            for name in ("made", "outcomes"):
                scan.__dict__.pop(name, None)
        self._with_swaps.clear()
        self._fitter = Fitter(self.build)

    @property
    def swapped(self) -> tuple[Serving, ...]:
        """The drink with each set of swaps, as it is made when a guest asks for nothing else."""
        sets = (tuple(swap.id for swap in chosen) for chosen in swap_sets(self.build.drink))
        return tuple(self[replace(self.default, swaps=swaps)] for swaps in sets if swaps)

    def fit(self, choice: Choice) -> Fit:
        """As :meth:`Fitter.fit`."""
        return self._for(choice).fit(choice)

    def spread(self, choice: Choice) -> Spread:
        """As :meth:`Fitter.spread`."""
        return self._for(choice).spread(choice)

    def passed_ml(self, choice: Choice) -> float:
        """As :meth:`Fitter.passed_ml`."""
        return self._for(choice).passed_ml(choice)

    def over_at_least(self, choice: Choice) -> float:
        """As :meth:`Fitter.over_at_least`."""
        return self._for(choice).over_at_least(choice)

    def needs(self, choice: Choice) -> dict[str | None, float]:
        """As :meth:`Fitter.needs`."""
        return self._for(choice).needs(choice.add_ons)

    def _for(self, choice: Choice) -> Fitter:
        return self.with_swaps(choice.swaps)._fitter

    @cached_property
    def outcomes(self) -> tuple[Outcome, ...]:
        """How each combination comes out, in the order of :func:`choices`."""
        found = []
        offered = choices(self.build.drink, self.build.size)
        for _, group in groupby(offered, lambda choice: (choice.swaps, choice.add_ons)):
            same = list(group)
            for choice in same:
                fit = self.fit(choice)
                over_ml, held_ml = max(0.0, fit.over_ml), fit.held_back_ml
                figures = fit.taken, fit.hands_ml, fit.thin
                found.append(Outcome(choice, fit.verdict, held_ml, over_ml, *figures))
            # There may be thousands.
            self._for(same[0]).forget(same[0].add_ons)
        return tuple(found)

    @cached_property
    def fullest_in_blender_ml(self) -> float:
        """What the blender reads at the most, of every choice that fits; 0 without a blend."""
        if not any(step.action == "blend" for step in self.build.steps):
            return 0.0
        fitting = (one.choice for one in self.outcomes if one.verdict != "too-much")
        fits = [self.fit(choice) for choice in (self.default, *fitting)]
        return max(in_blender_ml(fit.build.steps, fit.after) for fit in fits)

    @property
    def blended_at_once(self) -> int:
        """How many drinks the blender takes together, whatever is asked for; at least one."""
        fullest_ml = self.fullest_in_blender_ml
        return max(1, int(holds_ml(self.build) / fullest_ml)) if fullest_ml else 1

    @cached_property
    def made(self) -> tuple[Serving, ...]:
        """Every choice that fits, worked out, in the order of :func:`choices`."""
        every = (self[choice] for choice in choices(self.build.drink, self.build.size))
        return tuple(serving for serving in every if serving.verdict != "too-much")

    @property
    def too_much(self) -> tuple[Outcome, ...]:
        """Those that do not fit even with base held back."""
        return tuple(o for o in self.outcomes if o.verdict == "too-much")


scan = Scan


def _serving(scan: Scan, choice: Choice, fit: Fit) -> Serving:
    """What was worked out, wrapped for people: every step with its levels."""
    build = fit.build
    sweet, ice = shares(build.drink, choice)
    share = {"sweetness": sweet, "ice": ice, "": 1.0}
    last = len(fit.after)
    figures: list[StepFigure] = []
    vessel, nothing_added = "", False  # at the last step that adds something
    steps = zip(build.steps, fit.after, items_after(build.steps, fit.after), strict=True)
    for number, (step, after, items) in enumerate(steps, start=1):
        used = _used(step, after, fit, share[step.scales])
        at = levels(after.cup)
        final = number == last
        state = FillState(build.cup, items, build.working_ml, after.cup, at, final, build.dome)
        shaker_ml, chilled = after.shaker.liquid_ml, after.chilled
        if used is not None:
            nothing_added = used.mass_g <= 0.0 and used.to_line_ml is None
        if isinstance(step.step, AddStep):
            vessel = step.step.into if step.shaker else vessel
        elif step.action in EMPTIES:
            vessel = ""
        idle = nothing_added and (used is not None or step.action == "swirl")
        idle = idle or (step.action == "chill" and ice < 1.0 and chilled is None)
        head_ml = build.head_top_ml(number - 1, after)
        figures.append(
            StepFigure(
                number,
                step.step,
                step.add_on,
                used,
                state,
                shaker_ml,
                chilled,
                idle,
                head_ml,
                vessel,
            )
        )
    return Serving(
        drink=build.drink,
        cup=build.size,
        choice=choice,
        steps=tuple(figures),
        final=figures[-1].state,
        working_ml=build.working_ml,
        held_back_ml=fit.held_back_ml,
        verdict=fit.verdict,
        over_ml=max(0.0, fit.over_ml),
        worst_step=fit.worst + 1,
        choices=scan,
    )


def _used(step: BuildStep, after: After, fit: Fit, share: float) -> Used | None:
    if not isinstance(step.step, AddStep):
        return None
    component, amount, cup = step.step.component, after.amount, fit.build.cup
    to_grams = step.density if component.behaves == "liquid" else 1.0
    line, line_mm = step.line_ml, step.line_mm
    if step.body and fit.line_ml is not None:
        line, line_mm = fit.line_ml, None
    if line is not None and line_mm is None:
        line_mm = cup.height_mm(min(line, cup.brimful_ml))
    return Used(
        component=component,
        mass_g=amount * to_grams,
        volume_ml=amount / step.per_ml,
        count=amount / step.count_unit if step.count_unit and line is None else None,
        written_g=step.amount * share * to_grams,
        to_line_ml=line,
        to_line_mm=line_mm,
        already_over_ml=after.already_over_ml,
    )
