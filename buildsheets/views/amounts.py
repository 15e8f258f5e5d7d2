"""A serving goes in; what each of its steps takes for every choice a guest can make comes out."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from itertools import combinations

from buildsheets.cup.serving import Choice, Serving, StepFigure
from buildsheets.menu.model import AddOn, AddStep, Swap
from buildsheets.views import rounding
from buildsheets.views.once import once
from buildsheets.views.types import AmountRow, AmountTable
from buildsheets.views.words import Words

NOT_MADE = "–"
"""In the place of an amount: this choice does not fit and is not made."""

_SCALED = ("sweetener", "ice")  # roles whose amounts an option scales

Chosen = tuple[AddOn | Swap, ...]  # swaps before add-ons
Cells = tuple[tuple[str, ...], ...]  # a row for each ice level, a cell for each sweetness


def order_sets(serving: Serving) -> list[Chosen]:
    """Every set of swaps and add-ons a guest may have, none first, small ones before large ones."""
    most = min(serving.drink.add_ons_at_most, len(serving.offered))
    every: list[Chosen] = [
        (*swaps, *add_ons)
        for swaps in serving.swap_sets
        for count in range(most + 1)
        for add_ons in combinations(serving.offered, count)
    ]
    return sorted(every, key=len)


def keys_of(chosen: Iterable[AddOn | Swap]) -> frozenset[str]:
    """What tells swaps and add-ons apart, be they of one id."""
    return frozenset(f"{'swap' if isinstance(one, Swap) else 'add-on'} {one.id}" for one in chosen)


def choices_of(serving: Serving, chosen: Chosen = ()) -> list[list[Choice]]:
    """The choices with these add-ons and swaps: a list for each ice level, in it one for each
    sweetness."""
    sweetness, ice = serving.drink.sweetness, serving.drink.ice
    sweets: Sequence[float | None] = sweetness.levels if sweetness else (None,)
    ices: Sequence[str | None] = tuple(ice.levels) if ice else (None,)
    add_ons = tuple(one.id for one in chosen if isinstance(one, AddOn))
    swaps = tuple(one.id for one in chosen if isinstance(one, Swap))
    return [[Choice(sweet, level, add_ons, swaps) for sweet in sweets] for level in ices]


def swaps_at(serving: Serving, figure: StepFigure) -> tuple[Swap, ...]:
    """What a guest may have at a step instead."""
    step = figure.step
    added = step.component.id if isinstance(step, AddStep) else ""
    return tuple(swap for swap in serving.drink.swaps if swap.replaced.id == added)


def with_swap(serving: Serving, swap: Swap, number: int) -> StepFigure:
    """The printed step of this number as it is done with a swap and nothing else asked for."""
    return _printed(serving.with_swap(swap), number)


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


def dash_said(tables: Iterable[AmountTable], words: Words) -> str:
    """What the dash in these tables means, where one has it: "– = does not fit: not made"."""
    cells = (cell for table in tables for row in table.rows for cell in row.amounts)
    return f"{NOT_MADE} = {words('refused')}" if NOT_MADE in cells else ""


@once
def _tables(serving: Serving, figure: StepFigure, words: Words) -> tuple[AmountTable, ...]:
    return tuple(_each_table(serving, figure, words))


def _each_table(serving: Serving, figure: StepFigure, words: Words) -> Iterator[AmountTable]:
    """The tables of a step, then those of each swap at it that takes other amounts."""
    step = figure.step
    if not isinstance(step, AddStep) or not (step.makes_room or step.component.role in _SCALED):
        return
    groups = _groups(serving, figure, (), words)
    usual, name = rounding.measured(figure, words), words.name(step.component)
    told = not _says_all(usual[0], groups)
    if told:
        yield from _tables_of(serving, figure, groups, name, words)
    for swap in swaps_at(serving, figure):
        other = with_swap(serving, swap, figure.number)
        own, measured = _groups(serving, figure, (swap,), words), rounding.measured(other, words)
        of_set = {keys_of(one): cells for cells, sets in groups.items() for one in sets}
        alike = all(of_set[keys_of(one)] == cells for cells, sets in own.items() for one in sets)
        same = alike and measured[1] == usual[1]
        if not same and (told or not _says_all(measured[0], own)):
            yield from _tables_of(serving, other, own, words.name(swap), words)


_Groups = dict[
    Cells, list[Chosen]
]  # sets of what is chosen beside a step, by the amounts they make


def _groups(serving: Serving, figure: StepFigure, here: Chosen, words: Words) -> _Groups:
    """The amounts of a step with a swap at it, or none, for whatever else is chosen."""
    groups: _Groups = {}
    at_step = keys_of(swaps_at(serving, figure))
    makes_room = isinstance(figure.step, AddStep) and figure.step.makes_room
    for chosen in order_sets(serving) if makes_room else [here]:
        if keys_of(chosen) & at_step == keys_of(here):
            beside = tuple(one for one in chosen if not keys_of([one]) & at_step)
            groups.setdefault(_cells(serving, figure, chosen, words), []).append(beside)
    return groups


def _says_all(usual: str, groups: _Groups) -> bool:
    """Whether the amount that a step prints is that of every choice."""
    return all(cell == usual for cells in groups for row in cells for cell in row)


def _tables_of(
    serving: Serving, figure: StepFigure, groups: _Groups, what: str, words: Words
) -> Iterator[AmountTable]:
    plain = next(cells for cells, sets in groups.items() if () in sets)
    others = words("any_other") if len(groups) > 1 else ""
    across: list[AmountRow] = []  # rows with a cell for each sweetness
    down: list[AmountRow] = []  # rows of one cell
    named = [(cells, _set_names(sets, groups, words)) for cells, sets in groups.items()
             if cells != plain]  # fmt: skip
    if unclear := _unclear(groups, plain):
        named.append((plain, _set_names(unclear, groups, words)))
    for cells, names in (*named, (plain, ())):
        by_sweetness = any(len({*row}) > 1 for row in cells)
        by_ice = len({*cells}) > 1
        rows = across if by_sweetness else down
        for ice, row in zip(_ice_names(serving, words), cells, strict=True):
            rows.append(AmountRow(names, ice if by_ice else "", row if by_sweetness else row[:1]))
            if not by_ice:
                break
    unit = rounding.counted_in(figure, words) or rounding.measured(figure, words)[1]
    if across:
        sweets = _sweet_names(serving, words)
        yield AmountTable(
            figure.number, what, unit, sweets, tuple(across), words("sweetness"), others
        )
    if down:
        choice = "" if others else words("ice")
        yield AmountTable(figure.number, what, unit, (), tuple(down), choice, others)


def _cells(serving: Serving, figure: StepFigure, chosen: Chosen, words: Words) -> Cells:
    makes_room = isinstance(figure.step, AddStep) and figure.step.makes_room

    def cell(choice: Choice) -> str:
        made = serving.choices[choice]
        if makes_room and made.verdict == "too-much":  # what does not fit is refused
            return NOT_MADE
        return rounding.amount_of(_printed(made, figure.number), words)

    return tuple(tuple(map(cell, row)) for row in choices_of(serving, chosen))


def _unclear(groups: _Groups, plain: Cells) -> list[Chosen]:
    """The sets that change nothing and hold one that does, whose amounts they might be taken to
    have: they are named, the others are called "any other"."""
    changing = [keys_of(one) for cells, sets in groups.items() if cells != plain for one in sets]
    return [one for one in groups[plain] if any(other < keys_of(one) for other in changing)]


def _set_names(sets: Sequence[Chosen], groups: _Groups, words: Words) -> tuple[str, ...]:
    """The names of sets with the same amounts; of an add-on or swap whose sets are all among them,
    one name for all: "every order with Parsnip cream". Of several swaps that change nothing beside
    the same add-ons, likewise: "Parsnip cream + any swap or none"."""
    names: list[str] = []
    left = list(sets)
    every = sorted((one for some in groups.values() for one in some), key=len)
    each = {key: one for chosen in every for one in chosen for key in keys_of([one])}
    for key, choice in each.items():
        with_it = [chosen for chosen in every if key in keys_of(chosen)]
        if len(with_it) > 1 and all(chosen in sets for chosen in with_it):
            names.append(words("order_with", name=words.name(choice)))
            left = [chosen for chosen in left if key not in keys_of(chosen)]
    told = dict[tuple[str, ...], None]()
    for chosen in left:
        add_ons = _add_ons(chosen)
        of_them = [one for one in every if _add_ons(one) == add_ons]
        alike = len(of_them) > 2 and all(one in left for one in of_them)
        said = [words.name(one) for one in (add_ons if alike else chosen)]
        told[(*said, words("any_swap")) if alike else tuple(said)] = None
    return (*map(" + ".join, told), *names)


def _add_ons(chosen: Chosen) -> Chosen:
    return tuple(one for one in chosen if isinstance(one, AddOn))


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
