"""A serving's options go in; the table of what changes, and the add-ons, come out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from buildsheets.cup.build import Fitter
from buildsheets.cup.options import add_ons_for, fullest
from buildsheets.cup.plan import plan
from buildsheets.cup.serving import Choice, Serving, StepFigure
from buildsheets.menu.model import AddOn, AddStep, Menu
from buildsheets.prep.allergens import of_add_on
from buildsheets.views import shown
from buildsheets.views.compose_steps import measured
from buildsheets.views.prep_words import allergen_line, allergens
from buildsheets.views.views import AddOnView, Table
from buildsheets.views.words import Words

Grid = Mapping[tuple[float | None, str | None], Serving]


def options_table(serving: Serving, words: Words) -> Table | None:
    """Sweetness across, what changes down: syrup, then the base for each ice level.

    Where the base stays the same throughout, it is a sentence and not a row.
    """
    drink = serving.drink
    if drink.sweetness is None and drink.ice is None:
        return None
    fitter = Fitter(plan(drink, serving.cup))
    sweets: tuple[float | None, ...] = drink.sweetness.levels if drink.sweetness else (None,)
    ices: tuple[str | None, ...] = tuple(drink.ice.levels) if drink.ice else (None,)
    grid = {(s, i): fitter.serving(Choice(s, i)) for s in sweets for i in ices}
    header = ("", *(words.percent(s) if s is not None else "" for s in sweets))
    rows = _sweetener_rows(serving, grid, sweets, words) if drink.sweetness else []
    body_rows, base, note = _body_rows(serving, grid, sweets, ices, words)
    if not rows and not body_rows:
        return Table(words("options"), (), (), note) if note else None
    title = words("sweetness") if drink.sweetness else words("options")
    if len(body_rows) > 1:
        title = words("by_ice", sweetness=title, what=base)
    return Table(title, header, tuple(rows + body_rows), note)


def _sweetener_rows(
    serving: Serving, grid: Grid, sweets: tuple[float | None, ...], words: Words
) -> list[tuple[str, ...]]:
    rows = []
    default_ice = serving.choice.ice
    for index, figure in enumerate(serving.steps):
        step = figure.step
        if not isinstance(step, AddStep) or step.component.role != "sweetener":
            continue
        cells = [_short(grid[(s, default_ice)].steps[index], words) for s in sweets]
        name = step.component.name.in_language(words.language)
        used = figure.used
        if used is not None and used.count is not None and step.tool is not None:
            name = words("counts_of", what=name, unit=shown.unit(words, step.tool, 2.0))
        else:
            name = words("pour_of", what=name)
        rows.append((name, *cells))
    return rows


def _short(figure: StepFigure, words: Words) -> str:
    """Only the number a table cell needs."""
    assert isinstance(figure.step, AddStep)
    assert figure.used is not None
    return measured(figure.step, figure.used, words)[0]


def _body_rows(
    serving: Serving,
    grid: Grid,
    sweets: tuple[float | None, ...],
    ices: tuple[str | None, ...],
    words: Words,
) -> tuple[list[tuple[str, ...]], str, str]:
    """The base for each ice level, as rows, or as one sentence where it never changes; its name."""
    body = next(
        i for i, f in enumerate(serving.steps) if isinstance(f.step, AddStep) and f.step.makes_room
    )
    step = serving.steps[body].step
    assert isinstance(step, AddStep)
    line = serving.steps[body].used
    to_line = line is not None and line.to_line_ml is not None
    cells = {
        (s, i): "–"
        if grid[(s, i)].verdict == "too-much"
        else _body_cell(grid[(s, i)].steps[body], to_line, words)
        for s in sweets
        for i in ices
    }
    base = step.component.name.in_language(words.language)
    others = [
        _ice_name(serving, grid, sweets, i, words)
        for i in ices
        if i is not None and i != serving.choice.ice
    ]
    if len(set(cells.values())) == 1:
        if to_line:
            level = words("level_ml", ml=next(iter(cells.values())))
            others.append(words("same_line", choices=base, level=level))
        return [], base, ". ".join(others)
    levels = serving.drink.ice
    if levels is None:
        label = words("line_of" if to_line else "pour_of", what=base)
        return [(label, *(cells[(s, None)] for s in sweets))], base, ""
    rows = [
        (levels.names[i].in_language(words.language), *(cells[(s, i)] for s in sweets))
        for i in ices
        if i is not None
    ]
    return rows, base, ". ".join(others)


def _body_cell(figure: StepFigure, to_line: bool, words: Words) -> str:
    used = figure.used
    assert used is not None
    if to_line and used.to_line_ml is not None:
        reading = figure.state.liquid_level_ml if figure.state else used.to_line_ml
        return words.number(shown.level_ml(min(used.to_line_ml, reading + 1e-6)))
    return words.number(shown.level_ml(used.volume_ml))


def _ice_name(
    serving: Serving,
    grid: Grid,
    sweets: tuple[float | None, ...],
    ice: str | None,
    words: Words,
) -> str:
    """An ice level and how much ice it is."""
    levels = serving.drink.ice
    if levels is None or ice is None:
        return ""
    name = levels.names[ice].in_language(words.language)
    if levels.levels[ice] == 0:
        return words("ice_left_out", name=name)
    for figure in grid[(sweets[-1], ice)].steps:
        step, used = figure.step, figure.used
        if isinstance(step, AddStep) and step.component.behaves == "ice" and used is not None:
            amount, unit, _ = measured(step, used, words)
            return words("ice_note", name=name, amount=f"{amount} {unit}")
    return name


def add_on_views(menu: Menu, serving: Serving, words: Words) -> tuple[AddOnView, ...]:
    """Each add-on alone on the drink: where and how much it goes in, what is left out so that it
    fits with every sweetness and ice, what it contains, or that it does not fit."""
    fitter = Fitter(plan(serving.drink, serving.cup))
    return tuple(
        _add_on_view(
            menu,
            serving,
            add_on,
            fullest(fitter, serving.choice, (add_on.id,)),
            words,
        )
        for add_on in add_ons_for(serving.drink, serving.cup)
    )


def _add_on_view(
    menu: Menu, serving: Serving, add_on: AddOn, with_it: Serving, words: Words
) -> AddOnView:
    figure = next(f for f in with_it.steps if f.add_on is not None)
    assert isinstance(figure.step, AddStep)
    assert figure.used is not None
    amount, unit, measure = measured(figure.step, figure.used, words)
    fits = with_it.verdict != "too-much"
    hold_back, line = _made_room(serving, with_it, words) if fits else ("", "")
    return AddOnView(
        name=add_on.name.in_language(words.language),
        amount=words("with_grams", amount=f"{amount} {unit}", measure=measure),
        hold_back=hold_back,
        line=line,
        fits=fits,
        verdict="" if fits else words("too_much", ml=shown.left_out_ml(with_it.over_ml)),
        allergens=_add_on_allergens(menu, add_on, words),
        place=_place(figure.number, words),
    )


def _place(number: int, words: Words) -> str:
    """Where among the printed steps it goes: it stands after the step numbered one less."""
    before = words("addon_first") if number == 1 else words("addon_after", step=number - 1)
    return f"{before}, {words('addon_in')}"


def _made_room(serving: Serving, with_it: Serving, words: Words) -> tuple[str, str]:
    """(base left out, lower line): how the base makes room for an add-on."""
    if with_it.held_back_ml <= 0.0:
        return "", ""
    body = _body(with_it)
    assert isinstance(body.step, AddStep)
    assert body.used is not None
    base = body.step.component.name.in_language(words.language)
    if body.used.to_line_ml is None:
        left_out = shown.left_out_ml(with_it.held_back_ml)
        return words("hold_back_of", ml=left_out, what=base), ""
    written = _body(serving).used
    assert written is not None
    level = words("level_ml", ml=shown.level_ml(body.used.to_line_ml))
    lower = math.ceil((written.to_line_mm or 0.0) - (body.used.to_line_mm or 0.0))
    return "", words("line_lower", what=base, level=level, mm=lower)


def _body(serving: Serving) -> StepFigure:
    return next(f for f in serving.steps if isinstance(f.step, AddStep) and f.step.makes_room)


def _add_on_allergens(menu: Menu, add_on: AddOn, words: Words) -> str:
    """What it contains and may contain; never blank."""
    report = of_add_on(add_on)
    if not report.contains and not report.may_contain and not report.undeclared:
        return words("no_allergen")
    return allergen_line(words, allergens(words, menu, report))


Row = tuple[str, tuple[tuple[str, str], ...]]


def station_choices(serving: Serving, visit: Sequence[StepFigure], words: Words) -> tuple[Row, ...]:
    """What these steps do differently for each choice, as rows of (choice, amount).

    The choice nobody asked to change is in the row's own amount and stays out, and so does an
    amount of nothing for a choice of nothing.
    """
    drink = serving.drink
    fitter = Fitter(plan(drink, serving.cup))
    rows: list[Row] = []
    for figure in visit:
        step, index = figure.step, figure.number - 1
        if not isinstance(step, AddStep):
            continue
        name = step.component.name.in_language(words.language)
        sweets = [
            (s, fitter.serving(Choice(s, serving.choice.ice)).steps[index])
            for s in (drink.sweetness.levels if drink.sweetness else ())
            if s != serving.choice.sweetness
        ]
        ices = [
            (i, fitter.serving(Choice(serving.choice.sweetness, i)).steps[index])
            for i in (drink.ice.levels if drink.ice else ())
            if i != serving.choice.ice
        ]
        shares = drink.ice.levels if drink.ice else {}
        names = drink.ice.names if drink.ice else {}
        if step.component.role == "sweetener":
            sweets, ices = [(s, made) for s, made in sweets if s > 0.0], []
        elif step.component.behaves == "ice":
            sweets, ices = [], [(i, made) for i, made in ices if shares[i] > 0.0]
        elif not step.makes_room:
            continue
        cells = [(words.percent(s), _short(made, words)) for s, made in sweets]
        cells += [(names[i].in_language(words.language), _short(made, words)) for i, made in ices]
        usual = _short(figure, words)
        if step.makes_room and all(amount == usual for _, amount in cells):
            if figure.used is not None and figure.used.to_line_ml is not None:
                rows.append((words("same_line_any"), ()))
            continue
        rows.append((name, tuple(cells)))
    return tuple(rows)
