"""A serving goes in; what each of its steps takes for every choice a guest can make comes out."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence
from itertools import combinations

from buildsheets.cup.serving import Choice, Serving, StepFigure
from buildsheets.menu.model import AddOn, AddStep
from buildsheets.views import rounding
from buildsheets.views.types import AmountRow, AmountTable
from buildsheets.views.words import Words

NOT_MADE = "–"
"""In the place of an amount: this choice does not fit and is not made."""
LISTED_SETS = 5
"""Up to so many sets of add-ons that change nothing are named; more are called "any other"."""

_SCALED = ("sweetener", "ice")  # roles whose amounts an option scales

AddOns = tuple[AddOn, ...]
Cells = tuple[tuple[str, ...], ...]  # a row for each ice level, a cell for each sweetness


def add_on_sets(serving: Serving) -> list[AddOns]:
    """Every set of add-ons a guest may have, none first, small ones before large ones."""
    most = min(serving.drink.add_ons_at_most, len(serving.offered))
    return [chosen for count in range(most + 1) for chosen in combinations(serving.offered, count)]


def set_name(chosen: AddOns, words: Words) -> str:
    """What a set of add-ons is called: "Tapioca pearls + Parsnip cream"."""
    return " + ".join(map(words.name, chosen)) or words("no_add_on")


def choices_of(serving: Serving, chosen: AddOns = ()) -> list[list[Choice]]:
    """The choices with these add-ons: a list for each ice level, in it one for each sweetness."""
    sweetness, ice = serving.drink.sweetness, serving.drink.ice
    sweets: Sequence[float | None] = sweetness.levels if sweetness else (None,)
    ices: Sequence[str | None] = tuple(ice.levels) if ice else (None,)
    ids = tuple(add_on.id for add_on in chosen)
    return [[Choice(sweet, level, ids) for sweet in sweets] for level in ices]


def is_made(serving: Serving, choice: Choice) -> bool:
    """Whether a choice fits; what does not is refused."""
    return serving.choices[choice].verdict != "too-much"


def of_choice(serving: Serving, choice: Choice, number: int) -> StepFigure:
    """The printed step of this number as it is done for a choice: add-ons are not counted."""
    return _printed(serving.choices[choice], number)


def _printed(made: Serving, number: int) -> StepFigure:
    steps = [figure for figure in made.steps if figure.add_on is None]
    return steps[number - 1]


def amount_tables(
    serving: Serving, figures: Sequence[StepFigure], words: Words
) -> tuple[AmountTable, ...]:
    """What these steps take for each choice, a table or two for each that takes not always the
    same; how they are printed is in ``types.grids``."""
    return tuple(table for figure in figures for table in _tables(serving, figure, words))


def _tables(serving: Serving, figure: StepFigure, words: Words) -> Iterator[AmountTable]:
    step = figure.step
    if not isinstance(step, AddStep) or not (step.makes_room or step.component.role in _SCALED):
        return
    groups: dict[Cells, list[AddOns]] = {}
    for chosen in add_on_sets(serving) if step.makes_room else [()]:
        groups.setdefault(_cells(serving, figure, chosen, words), []).append(chosen)
    usual, unit, _ = rounding.measured(figure, words)
    if all(cell == usual for cells in groups for row in cells for cell in row):
        return
    named = _named(groups)
    across: list[AmountRow] = []  # rows with a cell for each sweetness
    down: list[AmountRow] = []  # rows of one cell
    for cells, sets in sorted(groups.items(), key=lambda group: group[0] not in named):
        names = _set_names(sets, serving, words) if cells in named else ()
        by_sweetness = any(len({*row}) > 1 for row in cells)
        by_ice = len({*cells}) > 1
        rows = across if by_sweetness else down
        for ice, row in zip(_ice_names(serving, words), cells, strict=True):
            rows.append(AmountRow(names, ice if by_ice else "", row if by_sweetness else row[:1]))
            if not by_ice:
                break
    unit = rounding.counted_in(figure, words) or unit
    what, others = words.name(step.component), words("any_other") if named else ""
    if across:
        sweets = _sweet_names(serving, words)
        yield AmountTable(
            figure.number, what, unit, sweets, tuple(across), words("sweetness"), others
        )
    if down:
        choice = "" if named else words("ice")
        yield AmountTable(figure.number, what, unit, (), tuple(down), choice, others)


def _cells(serving: Serving, figure: StepFigure, chosen: AddOns, words: Words) -> Cells:
    makes_room = isinstance(figure.step, AddStep) and figure.step.makes_room

    def cell(choice: Choice) -> str:
        if makes_room and not is_made(serving, choice):
            return NOT_MADE
        return rounding.measured(of_choice(serving, choice, figure.number), words)[0]

    return tuple(tuple(map(cell, row)) for row in choices_of(serving, chosen))


def _named(groups: dict[Cells, list[AddOns]]) -> set[Cells]:
    """The groups whose sets are named: all but a large one of those that change nothing, and that
    too where one of its sets holds a named one, whose amounts it might be taken to have."""
    plain = next(cells for cells, sets in groups.items() if () in sets)
    others = [_ids(one) for cells, sets in groups.items() for one in sets if cells != plain]
    if not others:
        return set()
    unclear = any(other < _ids(one) for other in others for one in groups[plain])
    few = len(groups[plain]) <= LISTED_SETS
    return {cells for cells in groups if cells != plain or unclear or few}


def _set_names(sets: Sequence[AddOns], serving: Serving, words: Words) -> tuple[str, ...]:
    """The names of sets with the same amounts; of an add-on whose sets are all among them, one
    name for all: "every order with Parsnip cream"."""
    names: list[str] = []
    left = list(sets)
    for add_on in serving.offered:
        with_it = [chosen for chosen in add_on_sets(serving) if add_on in chosen]
        if len(with_it) > 1 and all(chosen in sets for chosen in with_it):
            names.append(words("order_with", name=words.name(add_on)))
            left = [chosen for chosen in left if add_on not in chosen]
    return (*(set_name(chosen, words) for chosen in left), *names)


def _ids(chosen: AddOns) -> set[str]:
    return {add_on.id for add_on in chosen}


def _sweet_names(serving: Serving, words: Words) -> tuple[str, ...]:
    sweetness = serving.drink.sweetness
    return tuple(map(words.percent, sweetness.levels)) if sweetness else ()


def _ice_names(serving: Serving, words: Words) -> tuple[str, ...]:
    ice = serving.drink.ice
    return tuple(words.text(ice.names[level]) for level in ice.levels) if ice else ("",)


def holds_always(
    serving: Serving, figure: StepFigure, said: Callable[[StepFigure], Hashable]
) -> bool:
    """Whether what is said of a step is the same for every choice that is made."""
    usual = said(figure)
    return all(said(_printed(one, figure.number)) == usual for one in serving.choices.made)
