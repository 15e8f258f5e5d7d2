"""Declarations go in; what cards say of allergens and cautions, and the wall's matrix, out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from buildsheets.cup.allergens import AllergenReport, SwapReport
from buildsheets.cup.serving import Serving
from buildsheets.menu.model import AddOn, AddStep, Batch, Component, Drink, Ingredient, Menu, Swap
from buildsheets.menu.tables import SCALD_C, allergen_group
from buildsheets.views import rounding
from buildsheets.views.card import office_foot
from buildsheets.views.once import once
from buildsheets.views.paper import WALL_MM, sheet_mm
from buildsheets.views.types import AllergenMatrixView, Allergens, MatrixRow, SwapView
from buildsheets.views.words import Words


def allergen_name(words: Words, menu: Menu, allergen: str) -> str:
    """The shop's own word in this language, else the list's, else whatever the shop wrote.

    A cereal or a nut is named with its group: "gluten (oats)".
    """
    group = allergen_group(allergen, menu.shop.allergens)
    if group != allergen:
        kind = words.get(f"allergen_{allergen}", allergen)
        return f"{allergen_name(words, menu, group)} ({kind})"
    own = menu.shop.allergens.get(allergen)
    named = own is not None and own.has(words.language)
    if own is not None and named and own.in_language(words.language) != allergen:
        return words.text(own)
    otherwise = allergen if own is None else words.text(own)
    usual = words.get(f"allergen_{allergen}", otherwise)
    return words.get(f"allergen_{menu.shop.allergen_list}_{allergen}", usual)


def allergens(words: Words, menu: Menu, report: AllergenReport) -> Allergens:
    """Contains and may contain by name; the statement when neither is, or when one is unknown."""
    statement = ""
    if report.undeclared:
        who = dict.fromkeys(words.name(path[-1]) for path in report.undeclared)
        statement = words("prep_undeclared", names=", ".join(who))
    elif not report.contains and not report.may_contain:
        statement = words("allergens_none", count=len(menu.shop.allergens))
    contains, may_contain = (
        tuple(allergen_name(words, menu, one) for one in menu.shop.in_order(ids))
        for ids in (report.contains, report.may_contain)
    )
    return Allergens(contains, may_contain, statement)


def allergen_line(words: Words, known: Allergens) -> str:
    """All of it in one line, never blank: "Contains milk; may contain soya"."""
    lists = []
    if known.contains:
        lists.append(words("contains_list", list=words.list(known.contains)))
    if known.may_contain:
        lists.append(words("may_list", list=words.list(known.may_contain)))
    line = ". ".join(filter(None, ("; ".join(lists), known.statement)))
    return line[:1].upper() + line[1:]


def allergens_of_order(
    menu: Menu, serving: Serving, words: Words
) -> tuple[str, tuple[tuple[Drink | AddOn, str], ...]]:
    """What an order brings, its swaps and add-ons with it, in one line; then, where add-ons bring
    any of it, what the drink and each of them brings."""
    drink = serving.allergens()
    reports: list[tuple[Drink | AddOn, AllergenReport]] = [
        (serving.drink, drink), *((one, serving.allergens(one)) for one in serving.added)
    ]  # fmt: skip

    def line(report: AllergenReport) -> str:
        return allergen_line(words, allergens(words, menu, report))

    bring = [(one, report) for one, report in reports
             if report.contains or report.may_contain or report.undeclared]  # fmt: skip
    of_add_ons = any(one is not serving.drink for one, _ in bring)
    parts = tuple((one, line(report)) for one, report in bring) if of_add_ons else ()
    return line(drink.together(report for _, report in reports[1:])), parts


def _sentences(told: Iterable[str]) -> str:
    """Each with a capital and a full stop."""
    return " ".join(f"{one[:1].upper()}{one[1:].removesuffix('.')}." for one in told if one)


OTHERS_LONGEST = 240
"""What swaps and add-ons bring is named in the frame where so many characters hold it, two or
three lines; else what swaps bring is, or only who brings something (common practice, no source)."""


def allergens_of(menu: Menu, serving: Serving, words: Words) -> Allergens:
    """What the drink contains and may contain as written, never blank; and what its swaps and
    add-ons bring besides."""
    bring = _bring_besides(menu, serving, words)
    swaps = {words.name(swap) for swap in serving.drink.swaps}
    others = ""
    for named in (set(bring), set(bring) & swaps, set[str]()):
        if bring and (not others or len(others) > OTHERS_LONGEST):
            others = _sentences([words("in_usual_order"), *_others(bring, named, words)])
    return replace(allergens(words, menu, serving.allergens()), others=others)


_Besides = Mapping[str, tuple[str, str]]
"""By who brings something: the word that it is said with, and what."""


def _others(bring: _Besides, named: Collection[str], words: Words) -> Iterator[str]:
    """What those that are named bring, once for all that bring the same; then who else does."""
    for how, what in dict.fromkeys(bring[name] for name in bring if name in named):
        who = [name for name in bring if name in named and bring[name] == (how, what)]
        yield words(how, names=words.list(who), list=what)
    if left := [name for name in bring if name not in named]:
        yield words("more_below", names=words.list(left))


def allergens_of_row(menu: Menu, serving: Serving, words: Words) -> str:
    """What the drink contains and may contain as written, and which swaps bring more, and that
    add-ons do, in one line: their names stand in the row where they go in."""
    line = allergen_line(words, allergens(words, menu, serving.allergens()))
    bring = _bring_besides(menu, serving, words)
    who = [name for swap in serving.drink.swaps if (name := words.name(swap)) in bring]
    who += [words("some_add_ons")] * (len(bring) > len(who))
    return _sentences([line, words("more_with", names=words.list(who))]) if bring else line


def _bring_besides(menu: Menu, serving: Serving, words: Words) -> _Besides:
    """What is not in the drink as written, by the name of the swap or add-on that brings it; of a
    swap that takes something away, in place of what, and how that may be there even so."""
    own = serving.allergens()
    found: dict[str, tuple[str, str]] = {}
    swaps = [(one, serving.swap_allergens(one)) for one in serving.drink.swaps]
    reports: list[tuple[AddOn | Swap, AllergenReport]] = [
        *((one, report.brings) for one, report in swaps),
        *((one, serving.allergens(one)) for one in serving.offered),
    ]
    for one, report in reports:
        known = allergens(words, menu, report.besides(own))
        brought = words.list(known.contains) if known.contains else ""
        may = [words("may_list", list=words.list(known.may_contain))] * bool(known.may_contain)
        if not (brought or may):
            continue
        swap = next((told for of, told in swaps if of is one), None)
        if swap is None or not swap.gone:
            found[words.name(one)] = "with_also", "; ".join(filter(None, [brought, *may]))
            continue
        gone = _named(menu, swap.gone, words)
        away = words("takes_away", list=gone)
        if brought:
            away = words("in_place_of", list=brought, gone=gone)
        told = "; ".join([away, *may, *_there_even_so(menu, swap, words)])
        found[words.name(one)] = "with_swap", told
    return found


def _named(menu: Menu, ids: Iterable[str], words: Words) -> str:
    """Allergens in the order of the list: "milk and soya"."""
    return words.list([allergen_name(words, menu, one) for one in menu.shop.in_order(ids)])


@once
def swap_views(menu: Menu, serving: Serving, words: Words) -> tuple[SwapView, ...]:
    """Each swap of a drink: what it brings and takes away, and what is in the drink even so."""
    found = []
    for swap in serving.drink.swaps:
        report = serving.swap_allergens(swap)
        fits = any(swap.id in one.choice.swaps for one in serving.choices.made)
        why = words("too_much", volume=rounding.left_out(words, serving.with_swap(swap).over_ml))
        same = [
            words("same_tool", tool=words.name(tool)) for tool in serving.tools_shared(swap, menu)
        ]
        told = [allergen_line(words, allergens(words, menu, report.brings))]
        told += _taken_away(menu, report, same, words)
        found.append(
            SwapView(
                name=words.name(swap),
                replaced=words("instead_of", what=words.name(swap.replaced)),
                allergens=_sentences(told),
                verdict="" if fits else words("not_made", why=why),
            )
        )
    return tuple(found)


def _taken_away(menu: Menu, report: SwapReport, same: Sequence[str], words: Words) -> Iterator[str]:
    """What becomes of each allergen of what is replaced: it stays through another part, it goes,
    though a tool may bring it, it may be there even so, or comes back with an add-on or another
    swap. ``same`` says which tools."""

    yield from _through("still_contains", menu, report.still, words)
    if report.gone:
        yield "; ".join([words("takes_away", list=_named(menu, report.gone, words)), *same])
    yield from _there_even_so(menu, report, words)


def _there_even_so(menu: Menu, report: SwapReport, words: Words) -> Iterator[str]:
    """How an allergen that a swap takes away may be there even so, or comes back."""
    yield from _through("may_still_contain", menu, report.perhaps_still, words)
    yield from _through("again_with", menu, report.again, words)
    yield from _through("perhaps_with", menu, report.perhaps_again, words)


def _through(
    key: str, menu: Menu, found: Mapping[str, Sequence[Component | AddOn | Swap]], words: Words
) -> Iterator[str]:
    for one in menu.shop.in_order(found):
        names = words.list([words.name(by) for by in found[one]])
        yield words(key, allergen=allergen_name(words, menu, one), names=names)


def drink_cautions(serving: Serving) -> tuple[str, ...]:
    """The ids of all that a drink and what goes into it ask to be warned of, add-ons apart."""
    steps = [figure.step for figure in serving.steps if figure.add_on is None]
    inner = (key for s in steps if isinstance(s, AddStep) for key in s.component.cautions)
    return tuple(dict.fromkeys([*inner, *serving.drink.cautions]))


_CAUTIONS = ("hot", "choking", "honey", "alcohol", "raw-egg", "caffeine")
# Whose words fit whichever topping brings them; the others name the add-on.
_SHARED = ("choking",)


def cautions_with(
    own: Sequence[tuple[str, ...]], add_ons: Sequence[AddOn | Swap], words: Words
) -> tuple[str, ...]:
    """Cautions of what is in the cup anyway and of the add-ons and swaps on offer; what only these
    bring stands first, with their names."""
    known = {*_SHARED, *(caution for group in own for caution in group)}
    found = []
    for key in _CAUTIONS:
        names = [words.name(a) for a in add_ons if key in a.component.cautions]
        if names and key not in known:
            caution = words(f"caution_{key}")
            found.append(words("caution_with", names=words.list(names), caution=caution))
    shared = [tuple(k for k in a.component.cautions if k in _SHARED) for a in add_ons]
    return (*found, *cautions_of([*own, *shared], words))


def cautions_of(cautions: Sequence[tuple[str, ...]], words: Words) -> tuple[str, ...]:
    """The usual cautions, each once, the gravest first, and the one about shared tools."""
    named = {caution for group in cautions for caution in group}
    keys = [key for key in _CAUTIONS if key in named]
    return tuple(words(f"caution_{key}") for key in [*keys, "cross"])


def caution_ids(item: Ingredient | Batch | Component) -> tuple[str, ...]:
    """Cautions of an entry and of everything in it, each once, in the order met.

    What goes in has cooled, so "hot" is an entry's own: by its word, or by a step that scalds.
    """
    inner: Sequence[Ingredient | Batch] = ()
    own = list(item.cautions)
    if isinstance(item, Batch):
        inner = [part.item for part in item.parts]
        if any((step.temperature_c or 0.0) > SCALD_C for step in item.steps):
            own.append("hot")
    elif isinstance(item, Component) and item.source is not None:
        inner = [item.source]
    brought = (id_ for one in inner for id_ in caution_ids(one) if id_ != "hot")
    return tuple(dict.fromkeys([*own, *brought]))


def _sold_as(entry: Drink | AddOn, words: Words) -> str:
    """Its name; of the hot or the iced build of a drink, with the cups it is sold in."""
    if isinstance(entry, AddOn):
        return words.name(entry)
    cups = f" ({words.names(entry.cups)})" if entry.served else ""
    return words.drink(entry) + cups


def allergen_matrix(
    menu: Menu, sold: Iterable[tuple[Drink | AddOn, AllergenReport]], words: Words, code: str = ""
) -> AllergenMatrixView:
    """Every drink and add-on against every allergen of the shop's list.

    Where a declaration is missing, every allergen not declared is marked as undeclared: the sheet
    has no blank that could be read as "none".
    """
    ids = tuple(menu.shop.allergens)
    rows = tuple(
        MatrixRow(
            _sold_as(entry, words),
            tuple(report.verdict(one) for one in ids),
            words("prep_drinks" if isinstance(entry, Drink) else "add_ons"),
        )
        for entry, report in sold
    )
    notes = ["prep_matrix_ask", "caution_cross"]
    if any("undeclared" in row.marks for row in rows):
        notes.insert(0, "prep_matrix_undeclared")
    short_mm, long_mm = sheet_mm(menu.shop.card_mm)
    return AllergenMatrixView(
        kind="allergens",
        language=words.language,
        code=code,
        title=words("prep_matrix_title"),
        allergens=tuple(allergen_name(words, menu, one) for one in ids),
        rows=rows,
        letters=(words("prep_letter_contains"), words("prep_letter_may")),
        legend=(
            words("contains"),
            words("may_contain"),
            words("prep_mark_undeclared"),
            words("prep_mark_none"),
        ),
        notes=tuple(words(key) for key in notes),
        foot=office_foot(words, menu, code),
        reading_distance_mm=WALL_MM,
        width_mm=long_mm,
        height_mm=short_mm,
    )
