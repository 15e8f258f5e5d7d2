"""A serving's options go in; the table of what changes, and the add-ons, come out."""

from __future__ import annotations

import math
from collections.abc import Sequence

from buildsheets.cup.allergens import AllergenReport
from buildsheets.cup.serving import Choice, Serving, StepFigure
from buildsheets.menu.model import AddOn, AddStep, Menu
from buildsheets.views import rounding
from buildsheets.views.prep_words import allergen_line, allergens
from buildsheets.views.rounding import measured
from buildsheets.views.views import AddOnView, Table
from buildsheets.views.words import Words


def options_table(serving: Serving, words: Words) -> Table | None:
    """Sweetness across, what changes down: syrup, then the base for each ice level.

    Where the base stays the same throughout, it is a sentence and not a row.
    """
    drink = serving.drink
    if drink.sweetness is None and drink.ice is None:
        return None
    sweets: tuple[float | None, ...] = drink.sweetness.levels if drink.sweetness else (None,)
    rows = _sweetener_rows(serving, sweets, words) if drink.sweetness else []
    base_rows, base, note = _base_rows(serving, sweets, words)
    if not rows and not base_rows:
        return Table(words("options"), (), (), note) if note else None
    title = words("sweetness") if drink.sweetness else words("options")
    if len(base_rows) > 1:
        title = words("by_ice", sweetness=title, what=base)
    header = ("", *(words.percent(s) if s is not None else "" for s in sweets))
    return Table(title, header, tuple(rows + base_rows), note)


def _sweetener_rows(
    serving: Serving, sweets: Sequence[float | None], words: Words
) -> list[tuple[str, ...]]:
    rows = []
    choices = [serving.choices[Choice(s, serving.choice.ice)] for s in sweets]
    for index, figure in enumerate(serving.steps):
        step = figure.step
        if not isinstance(step, AddStep) or step.component.role != "sweetener":
            continue
        name, unit = (
            step.component.name.in_language(words.language),
            rounding.counted_in(figure, words),
        )
        name = words("counts_of", what=name, unit=unit) if unit else words("pour_of", what=name)
        rows.append((name, *(measured(one.steps[index], words)[0] for one in choices)))
    return rows


def _base_rows(
    serving: Serving, sweets: Sequence[float | None], words: Words
) -> tuple[list[tuple[str, ...]], str, str]:
    """The base for each ice level, as rows, or as one sentence where it never changes; its name."""
    levels = serving.drink.ice
    ices: tuple[str | None, ...] = tuple(levels.levels) if levels else (None,)
    cells = {(s, i): _base_cell(serving.choices[Choice(s, i)], words) for s in sweets for i in ices}
    base, to_line = base_name(serving, words), pours_to_line(serving)
    notes = [
        _ice_name(serving, Choice(sweets[-1], ice), words)
        for ice in ices
        if ice is not None and ice != serving.choice.ice
    ]
    if len(set(cells.values())) == 1:
        if to_line:
            level = words("level_ml", ml=next(iter(cells.values())))
            notes.append(words("same_line", choices=base, level=level))
        return [], base, ". ".join(notes)
    if levels is None:
        label = words("line_of" if to_line else "pour_of", what=base)
        return [(label, *(cells[(s, None)] for s in sweets))], base, ""
    rows = [
        (levels.names[i].in_language(words.language), *(cells[(s, i)] for s in sweets))
        for i in levels.levels
    ]
    return rows, base, ". ".join(notes)


def _base_cell(serving: Serving, words: Words) -> str:
    if serving.verdict == "too-much":
        return "–"
    return words.number(rounding.base_ml(serving.body))


def base_name(serving: Serving, words: Words) -> str:
    """What the base of a drink is called."""
    step = serving.body.step
    assert isinstance(step, AddStep)
    return step.component.name.in_language(words.language)


def pours_to_line(serving: Serving) -> bool:
    """Whether the base is poured to a line."""
    used = serving.body.used
    return used is not None and used.to_line_ml is not None


def _ice_name(serving: Serving, choice: Choice, words: Words) -> str:
    """An ice level and how much ice it is."""
    levels = serving.drink.ice
    if levels is None or choice.ice is None:
        return ""
    name = levels.names[choice.ice].in_language(words.language)
    if levels.levels[choice.ice] == 0:
        return words("ice_left_out", name=name)
    for figure in serving.choices[choice].steps:
        if isinstance(figure.step, AddStep) and figure.step.component.behaves == "ice":
            amount, unit, _ = measured(figure, words)
            return words("ice_note", name=name, amount=f"{amount} {unit}")
    return name


def add_on_views(menu: Menu, serving: Serving, words: Words) -> tuple[AddOnView, ...]:
    """Each add-on alone on the drink: where and how much it goes in, what is left out so that it
    fits with every sweetness and ice, what it contains, or that it does not fit."""
    return tuple(
        _add_on_view(menu, serving, add_on, serving.choices.fullest((add_on.id,)), words)
        for add_on in serving.offered
    )


def _add_on_view(
    menu: Menu, serving: Serving, add_on: AddOn, with_it: Serving, words: Words
) -> AddOnView:
    figure = next(f for f in with_it.steps if f.add_on is not None)
    amount, unit, measure = measured(figure, words)
    fits = with_it.verdict != "too-much"
    hold_back, line = _room_made(serving, with_it, words) if fits else ("", "")
    number = figure.number
    # It stands after the printed step numbered one less.
    place = words("addon_first") if number == 1 else words("addon_after", step=number - 1)
    return AddOnView(
        name=add_on.name.in_language(words.language),
        amount=words("with_grams", amount=f"{amount} {unit}", measure=measure),
        hold_back=hold_back,
        line=line,
        fits=fits,
        verdict="" if fits else too_much(with_it, words),
        allergens=_add_on_allergens(menu, serving.allergens(add_on), words),
        place=f"{place}, {words('addon_in')}",
    )


def too_much(serving: Serving, words: Words) -> str:
    """By how much a choice does not fit."""
    return words("too_much", ml=rounding.left_out_ml(serving.over_ml))


def left_out(serving: Serving, words: Words) -> str:
    """How much of the base is left out."""
    ml = rounding.left_out_ml(serving.held_back_ml)
    return words("hold_back_of", ml=ml, what=base_name(serving, words))


def _room_made(serving: Serving, with_it: Serving, words: Words) -> tuple[str, str]:
    """(base left out, lower line): how the base makes room for an add-on."""
    if with_it.held_back_ml <= 0.0:
        return "", ""
    used, written = with_it.body.used, serving.body.used
    assert used is not None
    assert written is not None
    if used.to_line_ml is None:
        return left_out(with_it, words), ""
    level = rounding.level(words, used.to_line_ml)
    lower = math.ceil((written.to_line_mm or 0.0) - (used.to_line_mm or 0.0))
    return "", words("line_lower", what=base_name(with_it, words), level=level, mm=lower)


def _add_on_allergens(menu: Menu, report: AllergenReport, words: Words) -> str:
    """What it contains and may contain; never blank."""
    if not report.contains and not report.may_contain and not report.undeclared:
        return words("no_allergen")
    return allergen_line(words, allergens(words, menu, report))


Row = tuple[str, tuple[tuple[str, str], ...]]


def station_choices(serving: Serving, visit: Sequence[StepFigure], words: Words) -> tuple[Row, ...]:
    """What these steps do differently for each choice, as rows of (choice, amount).

    The choice nobody asked to change is in the row's own amount and stays out, and so does an
    amount of nothing for a choice of nothing.
    """
    usual, sweetness, ice = serving.choice, serving.drink.sweetness, serving.drink.ice
    sweets = [
        (words.percent(s), Choice(s, usual.ice))
        for s in (sweetness.levels if sweetness else ())
        if s != usual.sweetness
    ]
    ices = [
        (ice.names[i].in_language(words.language), Choice(usual.sweetness, i))
        for i in (ice.levels if ice else ())
        if ice and i != usual.ice
    ]
    rows: list[Row] = []
    for figure in visit:
        step = figure.step
        if not isinstance(step, AddStep):
            continue
        if step.component.role == "sweetener":
            others = [(label, choice) for label, choice in sweets if choice.sweetness]
        elif step.component.behaves == "ice":
            others = [(label, one) for label, one in ices if ice and ice.levels[one.ice or ""]]
        elif step.makes_room:
            others = sweets + ices
        else:
            continue
        cells = tuple(
            (label, measured(serving.choices[choice].steps[figure.number - 1], words)[0])
            for label, choice in others
        )
        if step.makes_room and {amount for _, amount in cells} <= {measured(figure, words)[0]}:
            if pours_to_line(serving):
                rows.append((words("same_line_any"), ()))
            continue
        rows.append((step.component.name.in_language(words.language), cells))
    return tuple(rows)
