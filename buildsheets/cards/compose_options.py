"""A serving's options go in; the table of what changes, and the add-ons, come out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from buildsheets.cards import shown
from buildsheets.cards.compose_steps import measured
from buildsheets.cards.views import AddOnView, Table
from buildsheets.cards.words import Words
from buildsheets.core.model import AddStep, Menu
from buildsheets.figures.allergens import allergen_name, of_add_on, ordered
from buildsheets.figures.build import Fitter
from buildsheets.figures.options import add_ons_for
from buildsheets.figures.plan import plan
from buildsheets.figures.serving import Choice, Serving, StepFigure

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
        i for i, f in enumerate(serving.steps) if isinstance(f.step, AddStep) and f.step.body
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
    for figure in grid[(sweets[-1], ice)].steps:
        step, used = figure.step, figure.used
        if isinstance(step, AddStep) and step.component.behaves == "ice" and used is not None:
            amount, unit, _ = measured(step, used, words)
            return words("ice_note", name=name, amount=f"{amount} {unit}")
    return name


def add_on_views(menu: Menu, serving: Serving, words: Words) -> tuple[AddOnView, ...]:
    """Each add-on alone on the drink as written: its amount, what is left out, or that it does
    not fit."""
    fitter = Fitter(plan(serving.drink, serving.cup))
    found = []
    for add_on in add_ons_for(serving.drink, serving.cup):
        choice = Choice(serving.choice.sweetness, serving.choice.ice, (add_on.id,))
        with_it = fitter.serving(choice)
        figure = next(f for f in with_it.steps if f.add_on is not None)
        assert isinstance(figure.step, AddStep)
        assert figure.used is not None
        amount, unit, _ = measured(figure.step, figure.used, words)
        fits = with_it.verdict != "too-much"
        body = next(f for f in with_it.steps if isinstance(f.step, AddStep) and f.step.body)
        assert isinstance(body.step, AddStep)
        assert body.used is not None
        hold_back = line = ""
        if fits and with_it.held_back_ml > 0.0:
            base = body.step.component.name.in_language(words.language)
            if body.used.to_line_ml is not None:
                level = words("level_ml", ml=shown.level_ml(body.used.to_line_ml))
                line = f"{base} {words('to_level', level=level)}"
            else:
                left_out = shown.left_out_ml(with_it.held_back_ml)
                hold_back = words("hold_back_of", ml=left_out, what=base)
        report = of_add_on(add_on)
        names = [
            words(f"allergen_{key}")
            if f"allergen_{key}" in words.catalogue
            else allergen_name(key, menu.shop, words.language)
            for key in ordered(report.contains, menu.shop)
        ]
        found.append(
            AddOnView(
                name=add_on.name.in_language(words.language),
                amount=f"{amount} {unit}",
                hold_back=hold_back,
                line=line,
                fits=fits,
                verdict="" if fits else words("too_much", ml=shown.left_out_ml(with_it.over_ml)),
                allergens=words("contains_list", list=words.list(names)) if names else "",
            )
        )
    return tuple(found)


def station_options(serving: Serving, visit: Sequence[StepFigure], words: Words) -> str:
    """What these steps do differently for the options, in short."""
    drink = serving.drink
    fitter = Fitter(plan(drink, serving.cup))
    parts: list[str] = []
    for figure in visit:
        step, index = figure.step, figure.number - 1
        if not isinstance(step, AddStep):
            continue
        if step.component.role == "sweetener" and drink.sweetness is not None:
            cells = [
                f"{words.percent(s)}: {_short(made.steps[index], words)}"
                for s in drink.sweetness.levels
                if s != serving.choice.sweetness
                for made in [fitter.serving(Choice(s, serving.choice.ice))]
            ]
            parts.append(f"{step.component.name.in_language(words.language)}: {' · '.join(cells)}")
        if step.component.behaves == "ice" and drink.ice is not None:
            levels = drink.ice
            cells = [
                f"{levels.names[i].in_language(words.language)}: "
                f"{_short(fitter.serving(Choice(serving.choice.sweetness, i)).steps[index], words)}"
                for i in levels.levels
                if i != serving.choice.ice
            ]
            parts.append(" · ".join(cells))
    return ". ".join(parts)
