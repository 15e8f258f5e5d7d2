"""A drink's build and a choice go in; what goes into the cup, made to fit where that can be, out.

The policies of the counter live here: what scales, what base replaces, which line is kept, and how
much base a set of add-ons takes. The physics is in ``simulate`` and below.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import product
from typing import NamedTuple, TypeAlias

from buildsheets.cup.contents import Contents, levels, poured_to
from buildsheets.cup.cup import FIT_TOLERANCE_ML
from buildsheets.cup.errors import FigureError
from buildsheets.cup.holdback import most_within, round_down, round_near
from buildsheets.cup.items import Bed, Cap, Dusted, Ice, Liquid
from buildsheets.cup.room import Made, Trial, excess
from buildsheets.cup.search import largest_within
from buildsheets.cup.serving import Choice
from buildsheets.cup.simulate import START, After, run
from buildsheets.cup.steps import Build, BuildStep
from buildsheets.cup.tolerance import Spread
from buildsheets.menu.model import Drink

LEAST_SHARE = 0.25
"""A drink with less than this of its base, sweetener or topping is another drink; common practice,
no source. Ice may go altogether."""

MOST_KEPT = 100
"""So many sets of add-ons are kept as they were worked out, some 60 kB each: cards ask for all."""

Asked: TypeAlias = tuple[float | None, str | None]
"""A sweetness and an ice level; None where the drink has no such option."""


class Fit(NamedTuple):
    """A choice worked out in numbers: its build, with add-ons, and the vessels after each step.

    ``over_ml`` is how far the worst step stands over what is allowed, 0 or less if it fits;
    ``hands_ml`` of it is the room kept for what the tools stray. ``line_ml`` is the body's line
    where it differs from the written one. ``taken`` is the figure of its add-ons: ml of the base,
    or of the line. ``thin``: so much is more than the shop would leave out for this choice alone.
    """

    build: Build
    after: list[After]
    held_back_ml: float
    over_ml: float
    worst: int
    line_ml: float | None
    taken: float
    hands_ml: float
    thin: bool

    @property
    def foam_ml(self) -> float:
        """What the head of the worst step reads where it is what stands over the rim, else 0."""
        head_ml = self.build.head_top_ml(self.worst, self.after[self.worst])
        over_rim = head_ml - self.build.cup.brimful_ml
        return head_ml if head_ml and over_rim >= self.over_ml - FIT_TOLERANCE_ML else 0.0

    @property
    def in_dome(self) -> bool:
        """Whether what meets the limit at the worst step is a cap under its dome."""
        at = levels(self.after[self.worst].cup)
        cap_ml = at.cap_top - self.build.dome_ml
        return self.build.dome is not None and cap_ml >= max(at.liquid, at.bed_top, at.ice_top)

    @property
    def limit_ml(self) -> float:
        """What the worst step is held to: the rim while foam rises or for ice that may stand proud,
        the dome for a cap under it, else what may be filled."""
        build = self.build
        if self.foam_ml:
            return build.cup.brimful_ml
        heaped_ml = levels(self.after[self.worst].cup).top - build.cup.brimful_ml
        if build.requires != "fits" and heaped_ml >= self.over_ml - FIT_TOLERANCE_ML:
            return build.cup.brimful_ml
        return build.working_ml + (build.dome_ml if self.in_dome else 0.0)

    @property
    def verdict(self) -> str:
        """ "fits", "lid-pressed" (a flat lid presses the ice under) or "too-much"."""
        if self.over_ml > FIT_TOLERANCE_ML:
            return "too-much"
        if self.build.requires != "lid_fits":
            return "fits"
        top = levels(self.after[-1].cup).top
        return "fits" if top <= self.build.working_ml + FIT_TOLERANCE_ML else "lid-pressed"


class Asking(NamedTuple):
    """A set of add-ons in a drink: every sweetness and ice with it, but for the base; what is
    taken from the base of each."""

    trials: Mapping[Asked, Trial]
    taken: Mapping[Asked, float]


def default_choice(drink: Drink) -> Choice:
    """The choice that is made when a guest says nothing."""
    return Choice(
        drink.sweetness.default if drink.sweetness else None,
        drink.ice.default if drink.ice else None,
    )


def sweetness_and_ice(drink: Drink) -> Iterator[Asked]:
    """Every sweetness with every ice on offer; None where the drink has no such option."""
    sweetness = drink.sweetness.levels if drink.sweetness else [None]
    return product(sweetness, drink.ice.levels if drink.ice else [None])


def shares(drink: Drink, choice: Choice) -> tuple[float, float]:
    """The shares of the written sweetener and of the written ice that a choice takes."""
    ice = drink.ice.levels[choice.ice] if drink.ice and choice.ice is not None else 1.0
    return (1.0 if choice.sweetness is None else choice.sweetness), ice


class Fitter:
    """Works out the choices of one drink in one cup, keeping what they share.

    Shares are of the written amounts, and what a policy keeps is what the recipe as written gives.

    What a set of add-ons takes is one figure for every sweetness and ice, so that a card can say
    one line: the most that any of them needs that can be served at all, rounded once, with room
    for hands. A drink that says ``room_by_ice`` has one for each ice level. The room for hands is
    worked out at the fullest sweetness of each ice level, once for builds that stray alike.

    Without add-ons nothing is left out of the recipe as written: a finding tells where it has no
    room for hands. Nor of a choice that keeps its line, or takes as much base, and stands no higher
    at the lid, if it fits; every other choice has a base of its own, with room for hands.

    ``written`` works out the recipe as written, where ``build`` is that with a guest's swaps: with
    them as much is taken for add-ons, or more where it must be, so that a card can say one line.
    """

    def __init__(self, build: Build, written: Fitter | None = None) -> None:
        self.build = build
        self.written = written
        self.default = default_choice(build.drink)
        self._asking: dict[tuple[str, ...], Asking] = {}
        self._figures: dict[tuple[str, ...], Mapping[Asked, float]] = {}
        self._planned_of: dict[tuple[float, float], float] = {}

    def fit(self, choice: Choice) -> Fit:
        """Work out the amounts of a choice, less what its add-ons take.

        Raises ``FigureError`` for a sweetness or an ice level the drink is not offered with.

        The default choice is never held back: if it does not fit, the recipe is wrong. What cannot
        be served is worked out with nothing held back.
        """
        trial = self._trial(choice)
        taken = self.asking(choice.add_ons).taken[choice.sweetness, choice.ice]
        served = trial.can_be_served(trial.less(taken))
        if not served:
            taken = 0.0
        made = trial.made(trial.less(taken))
        base, over, worst = made.base, made.over_ml, made.worst
        if trial.hands_ml > 0.0 and made.lid_ml + trial.hands_ml > over:
            over, worst = made.lid_ml + trial.hands_ml, len(trial.build.steps) - 1
        passed, at = trial.passed(base)
        if passed > max(over, FIT_TOLERANCE_ML):
            over, worst = passed, at
        return Fit(
            trial.build,
            made.after,
            trial.poured(trial.planned) - trial.poured(base) if taken else 0.0,
            over,
            worst,
            None if trial.step.line_ml in (None, base) else base,
            taken,
            trial.hands_ml,
            bool(served and taken and trial.thin(taken)),
        )

    def spread(self, choice: Choice) -> Spread:
        """Spread, at the tools' tolerances, of the reading that meets the lid, against the working
        capacity: the top of everything, or what the verdict asked for judges."""
        trial, fit = self._trial(choice), self.fit(choice)
        line, amount = trial.step.line_ml, fit.after[fit.build.body].amount
        return trial.spread(
            amount if line is None else line if fit.line_ml is None else fit.line_ml
        )

    def passed_ml(self, choice: Choice) -> float:
        """How far a choice passes a line, so that nothing could be poured to it; 0 if not."""
        trial = self._trial(choice)
        passed, _ = trial.passed(trial.planned)
        return passed if passed > FIT_TOLERANCE_ML else 0.0

    def over_at_least(self, choice: Choice) -> float:
        """How far a choice is over even with the least base it may have."""
        trial = self._trial(choice)
        return trial.over(trial.least)

    def needs(self, add_ons: tuple[str, ...]) -> dict[str | None, float]:
        """What each ice level would need to have taken for a set of add-ons, were it alone."""
        found: dict[str | None, float] = {}
        for (_, ice), trial in self.asking(add_ons).trials.items():
            found[ice] = max(found.get(ice, 0.0), trial.need(0.0) or 0.0)
        return found

    def _trial(self, choice: Choice) -> Trial:
        trials, asked = self.asking(choice.add_ons).trials, (choice.sweetness, choice.ice)
        if asked not in trials:
            raise FigureError("choice", asked, f"{self.build.drink.id} is not offered with it")
        return trials[asked]

    def asking(self, add_ons: tuple[str, ...]) -> Asking:
        """A set of add-ons, worked out when it is first asked for."""
        if add_ons not in self._asking:
            self._asking[add_ons] = self._with(add_ons) if add_ons else self._plain()
            self._figures[add_ons] = self._asking[add_ons].taken
        return self._asking[add_ons]

    def figures(self, add_ons: tuple[str, ...]) -> Mapping[Asked, float]:
        """What is taken from the base of each choice with a set of add-ons."""
        return self._figures.get(add_ons) or self.asking(add_ons).taken

    def forget(self, add_ons: tuple[str, ...]) -> None:
        """Let go of a set of add-ons where there are many, to be worked out anew if it is asked for
        again."""
        if add_ons and len(self._figures) > MOST_KEPT:
            del self._asking[add_ons]

    def _plain(self) -> Asking:
        """What is ordered without add-ons: each choice has room of its own."""
        drink = self.build.drink
        trials = {}
        for asked in sweetness_and_ice(drink):
            sweet, ice = shares(drink, Choice(*asked))
            amounts = _scaled(self.build.steps, sweet, ice)
            trials[asked] = Trial(self.build, amounts, self._planned(sweet, ice))
        written = self.written.asking(()).trials if self.written else trials
        recipe = written[self.default.sweetness, self.default.ice]
        may_pass = recipe.may_pass or recipe.passed(recipe.planned)[0] > 0.0
        for trial in trials.values():
            trial.may_pass = may_pass
        made, taken = recipe.made(recipe.planned), dict.fromkeys(trials, 0.0)
        own_amounts = [after.amount for after in made.after]
        roomy = made.lid_ml + recipe.room_ml(recipe.planned, own_amounts) <= FIT_TOLERANCE_ML
        own = {
            asked: trial
            for asked, trial in trials.items()
            if trial.stands_higher(made)
            or (trial.planned != recipe.planned and not roomy)
            or (trial is not recipe and trial.over(trial.planned) > FIT_TOLERANCE_ML)
        }
        for asked, room_ml in _hands_ml(own, taken, {}).items():
            own[asked].hands_ml = room_ml
            taken[asked] = own[asked].need(0.0) or 0.0
        return Asking(trials, taken)

    def _with(self, add_ons: tuple[str, ...]) -> Asking:
        """What is ordered with a set of add-ons: one figure for all, or for each ice level."""
        drink, plain = self.build.drink, self.asking(())
        chosen = [one for key in add_ons for one in drink.add_ons if one.id == key]
        build, trials, higher = self.build.plus(chosen), {}, {}
        for asked, without in plain.trials.items():
            amounts = _scaled(build.steps, *shares(drink, Choice(*asked)))
            trial = Trial(build, amounts, without.less(plain.taken[asked]))
            trials[asked] = trial
            trial.may_pass = without.may_pass
            if trial.stands_higher(without.made(trial.planned)):
                higher[asked] = trial
        groups = [list(trials)]
        if drink.room_by_ice:
            ices = dict.fromkeys(ice for _, ice in trials)
            groups = [[asked for asked in trials if asked[1] == ice] for ice in ices]
        least = self.written.figures(add_ons) if self.written else {}
        rooms: dict[object, float] = {}
        taken: dict[Asked, float] = {}
        figures = dict.fromkeys(trials, 0.0)
        while figures != taken:
            taken = figures
            for asked, room_ml in _hands_ml(higher, taken, rooms).items():
                higher[asked].hands_ml = max(higher[asked].hands_ml, room_ml)
            figures = dict(each for group in groups for each in _taken(trials, group, least))
        return Asking(trials, taken)

    def _planned(self, sweet: float, ice: float) -> float:
        """The base of a choice without add-ons before any is held back: ml, or the line it is
        poured to."""
        step = self.build.steps[self.build.body]
        written = step.amount if step.line_ml is None else step.line_ml
        if sweet == 1.0 and ice == 1.0:
            return written
        if (sweet, ice) not in self._planned_of:
            find = self._fixed_body if step.line_ml is None else self._line
            self._planned_of[sweet, ice] = find(sweet, ice)
        return self._planned_of[sweet, ice]

    def _line(self, sweet: float, ice: float) -> float:
        """The line of a body that is poured to one: the written one, or that which it reaches with
        as much base as the recipe pours."""
        build, steps = self.build, self.build.steps
        step, more_base, same_line = steps[build.body], self._more_base(sweet), self._same_line(ice)
        if more_base and same_line:
            return step.line_ml or 0.0
        before = _before(build, _scaled(steps, sweet, ice))
        if more_base:
            return _reached(before, step, _poured(build, sweet, 1.0))
        with_ice, written = _before(build, _scaled(steps, sweet, 1.0)), _poured(build, 1.0, 1.0)
        line = _reached(with_ice, step, written)
        if same_line:
            return line
        return _reached(before, step, min(written, poured_to(with_ice, line, step.density)[0]))

    def _more_base(self, sweet: float) -> bool:
        sweetness = self.build.drink.sweetness
        return sweet == 1.0 or (sweetness is not None and sweetness.with_less_sweet == "more_base")

    def _same_line(self, ice: float) -> bool:
        ice_levels = self.build.drink.ice
        return ice == 1.0 or (ice_levels is not None and ice_levels.with_less_ice == "same_line")

    def _fixed_body(self, sweet: float, ice: float) -> float:
        """A body of a fixed amount: it takes the place of missing sweetener, and of missing ice up
        to the line the drink has with all its ice, each to the tool's nearest step."""
        steps, body = self.build.steps, self.build.body
        step, amount = steps[body], steps[body].amount
        if step.stays:
            return amount
        if sweet != 1.0 and self._more_base(sweet):
            sweeteners = [
                s for s in steps if s.scales == "sweetness" and isinstance(s.item, Liquid)
            ]
            missing = sum(s.amount - s.scaled(sweet) for s in sweeteners)
            amount = round_near(max(0.0, amount + missing), step.tool_step)
        lined = any(s.line_ml is not None for s in steps[body + 1 :])  # keeps the level by itself
        if ice != 1.0 and self._same_line(ice) and not lined:
            amounts = _scaled(steps, sweet, 1.0)

            def level(tried: float) -> float:
                amounts[body] = tried
                return levels(run(steps, amounts)[-1].cup).liquid

            line = level(amount)
            amounts = _scaled(steps, sweet, ice)
            most = amount + self.build.cup.brimful_ml  # more than any ice can have held up
            amount = largest_within(lambda tried: level(tried) - line, 0.0, most)
            amount = round_near(amount, step.tool_step)
        return amount


def _scaled(steps: Sequence[BuildStep], sweet: float, ice: float) -> list[float | None]:
    share = {"sweetness": sweet, "ice": ice}
    return [
        None if s.line_ml is not None else s.scaled(share[s.scales]) if s.scales else s.amount
        for s in steps
    ]


def _before(build: Build, amounts: Sequence[float | None]) -> Contents:
    """What is in the cup before the body."""
    after = run(build.steps[: build.body], amounts[: build.body])
    return (after or [START])[-1].cup


def _poured(build: Build, sweet: float, ice: float) -> float:
    """What the body's written line pours."""
    end = build.body + 1
    return run(build.steps[:end], _scaled(build.steps[:end], sweet, ice))[-1].amount


def _reached(before: Contents, step: BuildStep, amount: float) -> float:
    """The printable line at or below what an amount of the body reaches."""
    assert step.item is not None
    return round_down(levels(before.plus(step.item, amount)).liquid, step.tool_step)


def _taken(
    trials: Mapping[Asked, Trial], group: Sequence[Asked], least: Mapping[Asked, float]
) -> Iterator[tuple[Asked, float]]:
    """What is taken from the base of each choice of a group: the most that one of them needs, of
    those that can be served, and no less than ``least``."""
    taken = max((least.get(asked, 0.0) for asked in group), default=0.0)
    over = {asked: trials[asked].over(trials[asked].planned) for asked in group}
    if max(over.values()) > FIT_TOLERANCE_ML or taken:
        for asked in sorted(group, key=lambda asked: -over[asked]):  # the fullest needs most
            taken = trials[asked].need(taken) or taken
    return ((asked, taken) for asked in group)


def _hands_ml(
    trials: Mapping[Asked, Trial], taken: Mapping[Asked, float], rooms: dict[object, float]
) -> dict[Asked, float]:
    """The room for hands of each choice: that of the fullest which has the same ice and strays
    alike. What is known of it stays in ``rooms``."""
    alike: dict[Asked, object] = {}
    fullest: dict[object, tuple[Made, Trial]] = {}
    most: dict[object, list[float]] = {}
    for asked, trial in trials.items():
        made = trial.made(trial.less(taken[asked]))
        key: object = (asked[1], made.kind)
        alike[asked] = key
        if key not in rooms:
            amounts = [after.amount for after in made.after]
            most[key] = list(map(max, amounts, most.get(key, amounts)))
            if key not in fullest or made.lid_ml > fullest[key][0].lid_ml:
                fullest[key] = made, trial
    for known, (made, trial) in fullest.items():
        rooms[known] = trial.room_ml(made.base, most[known])
    return {asked: rooms[key] for asked, key in alike.items()}


class Most(NamedTuple):
    """The most of step ``at`` that fits, everything else as it is, and the least worth offering.

    ``whole`` is what it takes now, ``most`` a multiple of ``tool_step``; all in ml of a liquid or a
    line, in g of all else.
    """

    at: int
    step: BuildStep
    whole: float
    most: float
    least: float
    tool_step: float


def most_that_fits(fit: Fit) -> list[Most]:
    """For each amount of a build that is too much and can fix it alone, the most that fits.

    Order: what a counter can best do without, ice before base before cap before bed.
    """
    build, steps = fit.build, fit.build.steps
    used = [after.amount for after in fit.after]
    written = [None if s.line_ml is not None else u for s, u in zip(steps, used, strict=True)]
    found: list[Most] = []
    for at, step in enumerate(steps):
        if step.item is None or isinstance(step.item, Dusted):
            continue
        whole = step.line_ml if step.line_ml is not None else written[at] or 0.0
        tool_step = step.tool_step or 1.0
        least = tool_step if isinstance(step.item, Ice) else LEAST_SHARE * whole
        if step.line_ml is not None and at > 0:
            # A line that is passed before anything is poured would be a fault of its own.
            least = max(least, levels(fit.after[at - 1].cup).liquid)

        def over(amount: float, at: int = at, step: BuildStep = step) -> float:
            tried, changed = list(written), list(steps)
            if step.line_ml is not None:
                changed[at] = replace(step, line_ml=amount)
            else:
                tried[at] = amount
            return excess(build, run(changed, tried))[0]

        if least < whole:
            most = round_down(most_within(over, least, whole) or 0.0, tool_step)
            if least <= most < whole and over(most) <= FIT_TOLERANCE_ML:
                found.append(Most(at, step, whole, most, least, tool_step))
    order = {Ice: 0, Cap: 2, Bed: 3}
    return sorted(found, key=lambda most: (order.get(type(most.step.item), 1), most.at))
