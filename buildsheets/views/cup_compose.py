"""A checked menu, one cup and its servings go in; its add-on card and gauge strip come out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations

from buildsheets.cup.build import Fitter
from buildsheets.cup.options import add_ons_for, fullest
from buildsheets.cup.plan import plan
from buildsheets.cup.serving import Choice, Serving, StepFigure
from buildsheets.menu.model import AddOn, AddStep, CupSize, Menu
from buildsheets.prep.allergens import of_add_on
from buildsheets.views import shown
from buildsheets.views.compose import NO_FOOT, cautions_with, cup_name, gauge_lines
from buildsheets.views.compose_options import add_on_views
from buildsheets.views.compose_steps import measured
from buildsheets.views.cup_views import GaugeStripView, RackLine
from buildsheets.views.paper import SERIES
from buildsheets.views.prep_views import SheetTable, SheetView
from buildsheets.views.prep_words import allergen_line, allergens
from buildsheets.views.views import AddOnView
from buildsheets.views.words import Words

STRIP_HEADROOM_MM = 6.0
"""Above the rim's mark on a gauge strip, so that its label keeps clear of the edge."""


def cup_cards(
    menu: Menu, servings: Sequence[Serving], words: Words
) -> tuple[tuple[str, str, SheetView | GaugeStripView], ...]:
    """The add-on card and the gauge strip of every cup in use: (kind, cup id, view)."""
    found: list[tuple[str, str, SheetView | GaugeStripView]] = []
    for size in menu.cups.values():
        made = (
            addons_view(menu, size, servings, words),
            gauge_view(menu, size, servings, words),
        )
        found += [(view.kind, size.id, view) for view in made if view is not None]
    return tuple(found)


def addons_view(
    menu: Menu, size: CupSize, servings: Sequence[Serving], words: Words
) -> SheetView | None:
    """Add-ons and options of every drink in a cup; ``None`` when none has any.

    For each add-on the drinks are grouped by what it asks of them: nothing, some base left out,
    a lower line, or that it does not fit; what is left out is enough for every sweetness and ice.
    """
    here = [serving for serving in servings if serving.cup.id == size.id]
    tables = [*_add_ons(menu, here, words), *_together(here, words), *_options(here, words)]
    if not tables:
        return None
    offered = {a.id: a for serving in here for a in add_ons_for(serving.drink, size)}
    return SheetView(
        kind="addons",
        language=words.language,
        code="",
        title=words("addons_title"),
        subtitle=cup_name(size, words),
        tables=tuple(tables),
        notes=_notes(here, list(offered.values()), words),
        foot=NO_FOOT,
        reading_distance_mm=max(s.reading_distance_mm for s in menu.stations.values()),
        width_mm=menu.shop.card_width_mm,
        height_mm=menu.shop.card_height_mm,
        size_name=size.name.in_language(words.language),
    )


def _notes(servings: Sequence[Serving], offered: Sequence[AddOn], words: Words) -> tuple[str, ...]:
    """How many add-ons go into one cup, and the cautions: the usual ones, and what an add-on
    itself brings by its name."""
    most = {s.drink.add_ons_at_most for s in servings if add_ons_for(s.drink, s.cup)}
    limit = (words("addons_at_most", count=most.pop()),) if len(most) == 1 else ()
    return (*limit, *cautions_with((), offered, words))


def _table(
    title: str,
    header: Sequence[str],
    rows: Sequence[Sequence[str]],
    weights: Sequence[float],
    note: str = "",
) -> SheetTable:
    return SheetTable(
        title=title,
        header=tuple(header),
        rows=tuple(tuple(row) for row in rows),
        align="l" * len(header),
        weights=tuple(weights),
        strong=(0,),
        note=note,
    )


def _add_ons(menu: Menu, servings: Sequence[Serving], words: Words) -> Iterator[SheetTable]:
    """Each add-on, what to do with it, and for which drinks."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for serving in servings:
        offered = add_ons_for(serving.drink, serving.cup)
        for add_on, view in zip(offered, add_on_views(menu, serving, words), strict=True):
            brings = allergen_line(words, allergens(words, menu, of_add_on(add_on)))
            row = (f"{view.name}: {view.amount}", brings, _asked(view, words))
            drinks = groups.setdefault(row, [])
            drinks.append(serving.drink.name.in_language(words.language))
    order = [add_on.name.in_language(words.language) for add_on in menu.add_ons.values()]
    rows = sorted(groups, key=lambda row: order.index(row[0].partition(": ")[0]))
    if rows:
        header = (words("add_ons"), words("addons_allergens"), words("addons_do"),
                  words("addons_drinks"))  # fmt: skip
        cells = [(*row, " · ".join(groups[row])) for row in rows]
        yield _table("", header, cells, (0.8, 0.8, 0.8, 1.6))


def _asked(view: AddOnView, words: Words) -> str:
    """What an add-on asks of a drink."""
    if not view.fits:
        return f"{words('does_not_fit')}: {view.verdict}"
    if view.hold_back:
        return words("hold_back", amount=view.hold_back)
    return view.line or words("addons_as_written")


def _together(servings: Sequence[Serving], words: Words) -> Iterator[SheetTable]:
    """Several add-ons at once, where together they ask for more than each alone.

    Larger combinations are left out where a smaller one within them does not fit already.
    """
    groups: dict[tuple[str, str], list[str]] = {}
    for serving in servings:
        for chosen, asked in _combined(serving, words):
            names = " + ".join(add_on.name.in_language(words.language) for add_on in chosen)
            drink = serving.drink.name.in_language(words.language)
            groups.setdefault((names, asked), []).append(drink)
    if groups:
        rows = [(names, asked, " · ".join(drinks)) for (names, asked), drinks in groups.items()]
        header = (words("add_ons"), words("addons_do"), words("addons_drinks"))
        yield _table(words("addons_together"), header, rows, (1.2, 1.2, 1.6))


def _combined(serving: Serving, words: Words) -> Iterator[tuple[tuple[AddOn, ...], str]]:
    fitter = Fitter(plan(serving.drink, serving.cup))
    offered = add_ons_for(serving.drink, serving.cup)
    said: dict[frozenset[str], str] = {}
    impossible: list[frozenset[str]] = []
    for count in range(1, serving.drink.add_ons_at_most + 1):
        for chosen in combinations(offered, count):
            keys = frozenset(add_on.id for add_on in chosen)
            if any(known <= keys for known in impossible):
                continue
            ids = tuple(add_on.id for add_on in chosen)
            made = fullest(fitter, serving.choice, ids)
            asked = ""
            if made.verdict == "too-much":
                impossible.append(keys)
                over = words("too_much", ml=shown.left_out_ml(made.over_ml))
                asked = f"{words('does_not_fit')}: {over}"
            elif made.held_back_ml > 0.0:
                asked = _held_back(made, words)
            known_already = any(part < keys and told == asked for part, told in said.items())
            said[keys] = asked
            if count > 1 and asked and not known_already:
                yield chosen, asked


def _body(serving: Serving) -> StepFigure:
    return next(f for f in serving.steps if isinstance(f.step, AddStep) and f.step.makes_room)


def _held_back(serving: Serving, words: Words) -> str:
    """What a serving asks: a lower line where it is poured to one, else base left out."""
    figure = _body(serving)
    assert isinstance(figure.step, AddStep)
    assert figure.used is not None
    base = figure.step.component.name.in_language(words.language)
    if figure.used.to_line_ml is not None:
        level = words("level_ml", ml=shown.level_ml(figure.used.to_line_ml))
        return f"{base} {words('to_level', level=level)}"
    amount = words("hold_back_of", ml=shown.left_out_ml(serving.held_back_ml), what=base)
    return words("hold_back", amount=amount)


def _base(serving: Serving, words: Words) -> str:
    """How much of the base a choice takes, or the line it reaches."""
    if serving.verdict == "too-much":
        return words("does_not_fit")
    figure = _body(serving)
    assert figure.used is not None
    if figure.used.to_line_ml is not None:
        reached = figure.state.liquid_level_ml if figure.state else figure.used.to_line_ml
        level = shown.level_ml(min(figure.used.to_line_ml, reached + 1e-6))
        return words("to_level", level=words("level_ml", ml=level))
    return words("level_ml", ml=shown.level_ml(figure.used.volume_ml))


def _options(servings: Sequence[Serving], words: Words) -> Iterator[SheetTable]:
    """Sweetness and ice, drinks that do the same in one row."""
    sweet: _Groups = {}
    ice: _Groups = {}
    for serving in servings:
        drink, chosen = serving.drink, serving.choice
        fitter = Fitter(plan(drink, serving.cup))
        if drink.sweetness is not None:
            made = [fitter.serving(Choice(s, chosen.ice)) for s in drink.sweetness.levels]
            header = tuple(words.percent(s) for s in drink.sweetness.levels)
            _group(sweet.setdefault(header, {}), serving, made, "sweetener", words)
        if drink.ice is not None:
            levels = drink.ice
            made = [fitter.serving(Choice(chosen.sweetness, i)) for i in levels.levels]
            header = tuple(levels.names[i].in_language(words.language) for i in levels.levels)
            _group(ice.setdefault(header, {}), serving, made, "ice", words)
    for title, tables in (("sweetness", sweet), ("addons_ice", ice)):
        for header, groups in tables.items():
            rows = [(what, *cells, " · ".join(drinks)) for (what, *cells), drinks in groups.items()]
            heads = ("", *header, words("addons_drinks"))
            weights = (1.2, *(0.5 if len(header) > 3 else 0.8 for _ in header), 1.6)
            yield _table(words(title), heads, rows, weights)


_Groups = dict[tuple[str, ...], dict[tuple[str, ...], list[str]]]


def _group(
    groups: dict[tuple[str, ...], list[str]], serving: Serving, made: Sequence[Serving],
    role: str, words: Words,
) -> None:  # fmt: skip
    """Add a drink to the row that says what it does for each choice.

    A cell has the count or amount; where the base changes with it, that as well.
    """
    bases = [_base(one, words) for one in made]
    for index, figure in enumerate(serving.steps):
        step = figure.step
        if not isinstance(step, AddStep) or step.component.role != role:
            continue
        amounts = [_amount(one.steps[index], words) for one in made]
        what = step.component.name.in_language(words.language)
        unit = amounts[-1][1]
        if figure.used is not None and figure.used.count is not None and step.tool is not None:
            unit = shown.unit(words, step.tool, 2.0)
        what = words("counts_of", what=what, unit=unit)
        cells = [amount for amount, _ in amounts]
        if len(set(bases)) > 1:
            base = _body(serving).step
            assert isinstance(base, AddStep)
            what += f" · {base.component.name.in_language(words.language)}"
            cells = [f"{cell} · {said}" for cell, said in zip(cells, bases, strict=True)]
        name = serving.drink.name.in_language(words.language)
        groups.setdefault((what, *cells), []).append(name)


def _amount(figure: StepFigure, words: Words) -> tuple[str, str]:
    assert isinstance(figure.step, AddStep)
    assert figure.used is not None
    amount, unit, _ = measured(figure.step, figure.used, words)
    return amount, unit


def gauge_view(
    menu: Menu, size: CupSize, servings: Sequence[Serving], words: Words
) -> GaugeStripView | None:
    """Every line that drinks in a cup are poured to, at 1:1; ``None`` when there is no drink.

    The strip is on the smallest stock of the shop's series that is high enough for the rim.
    """
    drinks: dict[tuple[str, str, float], list[str]] = {}
    lines = {}
    for serving in servings:
        if serving.cup.id != size.id:
            continue
        for line in gauge_lines(serving, words):
            key = (line.kind, line.label, line.height_mm)
            if line.kind in ("line", "working", "rim"):
                lines[key] = line
                name = serving.drink.name.in_language(words.language)
                if line.kind == "line" and name not in drinks.setdefault(key, []):
                    drinks[key].append(name)
    if not lines:
        return None
    rows = [
        RackLine(line, words("step_height", mm=math.floor(line.height_mm)),
                 tuple(drinks.get(key, ())))
        for key, line in sorted(lines.items(), key=lambda item: item[1].height_mm)
    ]  # fmt: skip
    width, height = _strip_size(menu, rows[-1].line.height_mm)
    return GaugeStripView(
        kind="gauge",
        language=words.language,
        code="",
        title=words("gauge_title"),
        size_name=size.name.in_language(words.language),
        subtitle=words("gauge_strip"),
        rows=tuple(rows),
        gauge_floor_mm=size.floor_mm,
        foot=NO_FOOT,
        reading_distance_mm=max(s.reading_distance_mm for s in menu.stations.values()),
        width_mm=width,
        height_mm=height,
    )


def _strip_size(menu: Menu, rim_mm: float) -> tuple[float, float]:
    """The smallest upright stock, of the series of the shop's cards, that reaches over the rim."""
    card = {menu.shop.card_width_mm, menu.shop.card_height_mm}
    for series in SERIES.values():
        if any({stock.width_mm, stock.height_mm} == card for stock in series):
            # Room beside the gauge for the 50 mm proof bar and its words takes 100 mm.
            for stock in series:
                if stock.width_mm >= 100 and stock.height_mm >= rim_mm + STRIP_HEADROOM_MM:
                    return stock.width_mm, stock.height_mm
    return menu.shop.card_width_mm, menu.shop.card_height_mm
