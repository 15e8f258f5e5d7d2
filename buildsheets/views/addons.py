"""Servings of a cup go in; what each add-on asks of a drink, and the add-on card, come out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from buildsheets.cup.allergens import AllergenReport
from buildsheets.cup.serving import Serving, StepFigure
from buildsheets.menu.model import AddOn, AddStep, Component, CupSize, DoStep, Menu, Step, Swap
from buildsheets.menu.packaging import straw_of
from buildsheets.views import rounding
from buildsheets.views.allergens import allergen_line, allergens, cautions_with, swap_views
from buildsheets.views.amounts import NOT_MADE, amount_tables
from buildsheets.views.grids import grids
from buildsheets.views.keeps import keeps_of
from buildsheets.views.once import once
from buildsheets.views.rounding import measured
from buildsheets.views.types import AddOnView, SheetTable, SheetView
from buildsheets.views.words import Words

KINDS = ("on-wall", "settled", "liquid", "swimming", "floated", "dusted")
"""Toppings in the order they go into a cup."""


@once
def add_on_views(menu: Menu, serving: Serving, words: Words) -> tuple[AddOnView, ...]:
    """Each add-on of a drink, in the order they go in."""
    views = [
        (_add_on_view(menu, serving, add_on, words), KINDS.index(add_on.component.behaves))
        for add_on in serving.offered
    ]
    return tuple(view for view, _ in sorted(views, key=lambda one: (one[0].after_step, one[1])))


def _add_on_view(menu: Menu, serving: Serving, add_on: AddOn, words: Words) -> AddOnView:
    usual = replace(serving.choice, add_ons=(add_on.id,))
    with_it = serving.choices[usual]
    figure = next(f for f in with_it.steps if f.add_on is not None)
    amount, unit, tool = measured(figure, words)
    fits = any(add_on.id in one.choice.add_ons for one in serving.choices.made)
    station, straw = figure.step.station, add_on.straw
    return AddOnView(
        name=words.name(add_on),
        amount=amount,
        unit=unit,
        tool=tool,
        station=station.letter if station else "",
        after_step=figure.number - 1,
        place=_place(serving, figure, words),
        finish=words.text(straw) if straw else "",
        allergens=add_on_allergens(menu, serving.allergens(add_on), words),
        fits=fits,
        verdict="" if fits else words("not_made", why=too_much(with_it, words)),
        note=_note(serving, add_on, words),
    )


def _note(serving: Serving, add_on: AddOn, words: Words) -> str:
    """A word on how it goes in, and that it may stand over the rim where it does."""
    component = add_on.component
    notes = [*where_it_goes(component, words), *how_pulled(component, words)]
    notes += [words.text(component.note)] if component.note else []
    if component.behaves == "floated" and stands_in_dome(serving, component):
        notes.append(words("into_dome"))
    return ", ".join(notes)


def where_it_goes(component: Component, words: Words) -> list[str]:
    """That slices are pressed to the wall of the cup, or that they swim; nothing of what sinks."""
    keys = {"on-wall": "on_wall", "swimming": "swims"}
    return [words(keys[component.behaves])] if component.behaves in keys else []


def how_pulled(component: Component, words: Words) -> list[str]:
    """How each shot of a component is pulled; nothing of what is no shot."""
    if component.shot is None or component.tool is None:
        return []
    one = rounding.unit(words, component.tool, 1.0)
    return [words("pull_each", one=one, how=pull(component, words))]


def pull(component: Component, words: Words) -> str:
    """What goes into a shot, what comes out, to a tenth as a shot scale shows it, and in how long;
    "" of what is no shot."""
    shot = component.shot
    if shot is None:
        return ""

    def tenths(value: float) -> str:
        return words.number(round(value, 1))

    if shot.yield_ml is None:
        out = words("grams", g=tenths(shot.out_g))
    else:
        out = rounding.exactly(words, shot.yield_ml, words.volumes, 1)
    dose = words("grams", g=tenths(shot.dose_g))
    return words("pull_shot", dose=dose, out=out, s=round(shot.seconds))


def stands_in_dome(serving: Serving, cap: Component) -> bool:
    """Whether a floated topping stands over the rim for a choice that is made."""
    if serving.final.dome is None:
        return False
    made = (one for one in (serving, *serving.choices.made) if one.final.in_dome_mm)
    return any(used.component.id == cap.id for one in made for used in one.used)


def _place(serving: Serving, figure: StepFigure, words: Words) -> str:
    """Where an add-on goes in: "after step 5, before the lid"."""
    before = figure.number - 1
    parts = [words("addon_after", step=before) if before else words("addon_first")]
    after = serving.steps[before].step if before < len(serving.steps) else None
    if isinstance(after, DoStep) and after.action == "lid" and serving.cup.lid != "none":
        parts.append(words("addon_before_lid"))
    vessels = (f.step.into for f in serving.steps if isinstance(f.step, AddStep))
    if any(vessel != "cup" for vessel in vessels) and isinstance(figure.step, AddStep):
        into = figure.step.into
        parts.append(words("addon_in" if into == "cup" else f"addon_in_{into}"))
    return ", ".join(parts)


def closing_step(serving: Serving) -> int:
    """The number of the step that says which straw: where the lid goes on, else the last."""
    lids = (f for f in serving.steps if isinstance(f.step, DoStep) and f.step.action == "lid")
    return next(lids, serving.steps[-1]).number


def straw_notes(serving: Serving, step: Step, words: Words) -> list[str]:
    """The straw a drink goes out with where it is not the size's, and those that add-ons ask for
    where the lid goes on."""
    said = words.text(step.note) if step.note else ""
    named = straw_of(serving.drink.packaging)
    own = words.text(named) if named else ""
    notes = [own] if own not in said else []
    if not (isinstance(step, DoStep) and step.action == "lid"):
        return notes
    asked: dict[str, list[str]] = {}
    for add_on in serving.offered:
        if add_on.straw and (straw := words.text(add_on.straw)) not in (said, own):
            asked.setdefault(straw, []).append(words.name(add_on))
    with_it = (
        words("with_add_on", names=", ".join(names), what=straw) for straw, names in asked.items()
    )
    return [*notes, *with_it]


def too_much(serving: Serving, words: Words) -> str:
    """By how much a choice does not fit."""
    return words("too_much", volume=rounding.left_out(words, serving.over_ml))


def add_on_allergens(menu: Menu, report: AllergenReport, words: Words) -> str:
    """What it contains and may contain; never blank."""
    if not report.contains and not report.may_contain and not report.undeclared:
        return words("no_allergen")
    return allergen_line(words, allergens(words, menu, report))


def addons_view(
    menu: Menu, size: CupSize, servings: Sequence[Serving], words: Words
) -> SheetView | None:
    """Add-ons and options of every drink in a cup; ``None`` when none has any."""
    here = [serving for serving in servings if serving.cup.id == size.id]
    tables = []
    for some in _even(here):
        ends = (some[0], some[-1]) if len(here) > MOST_DRINKS else ()
        whose = tuple(words.name(one.drink) for one in ends)
        tables += [replace(table, drinks=whose) for table in _tables(menu, some, words)]
    if not tables:
        return None
    offered: dict[object, AddOn | Swap] = {a.id: a for serving in here for a in serving.offered}
    offered |= {("swap", s.id): s for serving in here for s in serving.drink.swaps}
    keeps = keeps_of(menu.shop, [one.component for one in offered.values()], words)
    most = {s.drink.add_ons_at_most for s in here if s.offered}
    limit = (words("addons_at_most", count=most.pop()),) if len(most) == 1 else ()
    brimful = rounding.level(words, here[0].final.cup.brimful_ml)
    return SheetView(
        kind="addons",
        language=words.language,
        title=words("addons_title"),
        subtitle=words("cup_of", name=words.name(size), volume=brimful),
        tables=tuple(tables),
        notes=(
            *limit,
            *([f"{words('keeps')}: {' · '.join(keeps)}"] if keeps else []),
            *cautions_with((), list(offered.values()), words),
        ),
        reading_distance_mm=max(s.reading_distance_mm for s in menu.stations.values()),
        width_mm=menu.shop.card_width_mm,
        height_mm=menu.shop.card_height_mm,
        size_name=words.name(size),
    )


MOST_DRINKS = 40
"""Drinks of which an add-on card lists what each add-on is for in one table; those of a larger menu
stand in tables of their own, in the menu's order, so that a cell of them has room on a card and no
guest's drink is looked for among hundreds. Common practice, no source."""


def _even(servings: Sequence[Serving]) -> Iterator[Sequence[Serving]]:
    """Servings in groups of about one size, none above the most."""
    groups = -(-len(servings) // MOST_DRINKS)
    bounds = [len(servings) * number // groups for number in range(groups + 1)] if groups else []
    return (servings[start:end] for start, end in pairwise(bounds))


def _tables(menu: Menu, servings: Sequence[Serving], words: Words) -> Iterator[SheetTable]:
    yield from _add_ons(menu, servings, words)
    yield from _swaps(menu, servings, words)
    yield from _room(servings, words)
    yield from _in_line(servings, words)
    yield from _of_both(servings, words)


def _table(
    title: str, header: tuple[str, ...], rows: Sequence[tuple[str, ...]], *weights: float
) -> SheetTable:
    return SheetTable(title, header, tuple(rows), "l" * len(header), weights, strong=(0,))


def _add_ons(menu: Menu, servings: Sequence[Serving], words: Words) -> Iterator[SheetTable]:
    """Each add-on: how much, which straw it asks for, what it contains, and for which drinks."""
    groups: dict[tuple[str, str], list[str]] = {}
    for serving in servings:
        drink = words.name(serving.drink)
        pulled = {words.name(one): how_pulled(one.component, words) for one in serving.offered}
        for view in add_on_views(menu, serving, words):
            amount = words("with_grams", amount=f"{view.amount} {view.unit}", measure=view.tool)
            told = (amount, *pulled.get(view.name, ()), view.finish)
            what = ", ".join(filter(None, told)) if view.fits else view.verdict
            groups.setdefault((f"{view.name}: {what}", view.allergens), []).append(drink)
    order = [words.name(add_on) for add_on in menu.add_ons.values()]
    rows = sorted(groups, key=lambda row: order.index(row[0].partition(": ")[0]))
    if rows:
        cells = [(*row, " · ".join(groups[row])) for row in rows]
        keys = ("add_ons", "addons_allergens", "addons_drinks")
        yield _table("", tuple(map(words, keys)), cells, 0.8, 0.8, 1.6)


def _swaps(menu: Menu, servings: Sequence[Serving], words: Words) -> Iterator[SheetTable]:
    """Each swap: what it brings and takes away, and for which drinks."""
    groups: dict[tuple[str, str], list[str]] = {}
    for serving in servings:
        for view in swap_views(menu, serving, words):
            name = f"{view.name} {view.replaced}"
            name = f"{name}: {view.verdict}" if view.verdict else name
            groups.setdefault((name, view.allergens), []).append(words.name(serving.drink))
    if groups:
        rows = sorted(groups)
        cells = [(*row, " · ".join(groups[row])) for row in rows]
        keys = ("swaps", "addons_allergens", "addons_drinks")
        yield _table("", tuple(map(words, keys)), cells, 0.8, 1.2, 1.2)


def _room(servings: Sequence[Serving], words: Words) -> Iterator[SheetTable]:
    """What the base does where add-ons change it; where that takes a table, the build card has it.

    What is not named changes nothing, and the table says so.
    """
    groups: dict[tuple[str, str], list[str]] = {}
    for serving in servings:
        drink = words.name(serving.drink)
        for table in amount_tables(serving, [serving.body], words):
            if not any(row.add_ons for row in table.rows):
                continue
            if table.header or any(row.ice for row in table.rows):
                whose = words("any_add_on_or_swap" if serving.drink.swaps else "any_add_on")
                row = (whose, f"{table.what}: {words('see_build_card')}")
                groups.setdefault(row, []).append(drink)
                continue
            for one in table.rows:
                if one.add_ons:
                    told = f"{table.what}: {one.amounts[0]} {table.unit}"
                    if one.amounts[0] == NOT_MADE:
                        told = words("refused")
                    groups.setdefault((one.either, told), []).append(drink)
    if groups:
        cells = [(*row, " · ".join(dict.fromkeys(drinks))) for row, drinks in groups.items()]
        keys = ("add_ons", "addons_do", "addons_drinks")
        table_of = _table("", tuple(map(words, keys)), cells, 1.0, 1.0, 1.2)
        swaps = any(serving.drink.swaps for serving in servings)
        yield replace(table_of, note=words("addons_swaps_else" if swaps else "addons_else"))


def _in_line(servings: Sequence[Serving], words: Words) -> Iterator[SheetTable]:
    """Sweetener and ice for each choice; drinks that do the same in one row."""
    tables: dict[tuple[str, ...], dict[tuple[str, ...], list[str]]] = {}
    for serving in servings:
        short = [one for one in amount_tables(serving, serving.steps, words) if one.in_line]
        for grid in grids(short):
            for row in grid.rows:
                drinks = tables.setdefault(grid.header, {}).setdefault(row, [])
                drinks.append(words.name(serving.drink))
    for header, rows in tables.items():
        heads = (*header, words("addons_drinks"))
        found = [(*row, " · ".join(drinks)) for row, drinks in rows.items()]
        width = 0.35 if len(header) > 4 else 0.6
        yield _table("", heads, found, 1.2, *(width for _ in header[1:]), 1.6)


def _of_both(servings: Sequence[Serving], words: Words) -> Iterator[SheetTable]:
    """What changes with sweetness and with ice, and with no add-on: a table on the build card."""
    groups: dict[str, list[str]] = {}
    for serving in servings:
        for table in amount_tables(serving, serving.steps, words):
            if not table.in_line and not any(row.add_ons for row in table.rows):
                groups.setdefault(table.what, []).append(words.name(serving.drink))
    if groups:
        cells = [
            (what, words("see_build_card"), " · ".join(dict.fromkeys(drinks)))
            for what, drinks in groups.items()
        ]
        both = f"{words('sweetness')}, {words('ice')}"
        yield _table("", (both, words("addons_do"), words("addons_drinks")), cells, 1.0, 1.0, 1.2)
