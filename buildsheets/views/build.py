"""A checked menu and its servings go in; build card views in a reader's language come out."""

from __future__ import annotations

from collections.abc import Sequence

from buildsheets.cup.fill import PROUD_MM
from buildsheets.cup.serving import Choice, Serving, StepFigure
from buildsheets.menu.model import AddStep, DoStep, Menu
from buildsheets.menu.tables import contrast
from buildsheets.views import rounding
from buildsheets.views.addons import add_on_views, base_name, pours_to_line
from buildsheets.views.allergens import allergens_of, cautions_with
from buildsheets.views.cup_drawing import cup_measures, drawing
from buildsheets.views.gauge import gauge_lines
from buildsheets.views.rounding import measured
from buildsheets.views.types import BuildCardView, StationMark, StepView, Table
from buildsheets.views.words import Words

SHAPES = ("disc", "square", "hexagon", "diamond", "shield", "house")


def station_marks(menu: Menu, words: Words) -> dict[str, StationMark]:
    """How each station is marked: its letter in a shape of its own, in menu order."""
    return {
        key: StationMark(
            words.name(station),
            station.letter,
            station.accent,
            "#ffffff" if contrast("#ffffff", station.accent) >= 4.5 else "#000000",
            SHAPES[i % len(SHAPES)],
        )
        for i, (key, station) in enumerate(menu.stations.items())
    }


def build_view(menu: Menu, serving: Serving, words: Words) -> BuildCardView:
    """The whole build of a drink in a cup, made as nobody asked to change it; without a foot."""
    marks, size = station_marks(menu, words), serving.cup
    stations = dict.fromkeys(f.step.station.id for f in serving.steps if f.step.station)
    own = [f.step.component.cautions for f in serving.steps if isinstance(f.step, AddStep)]
    return BuildCardView(
        kind="build",
        language=words.language,
        title=words.name(serving.drink),
        subtitle=_subtitle(serving, words),
        cup_name=cup_measures(serving, words),
        stations=tuple(marks[key] for key in stations),
        gauge=gauge_lines(serving, words),
        gauge_floor_mm=size.floor_mm,
        drawing=drawing(menu, serving, words),
        steps=tuple(step_view(serving, figure, words) for figure in serving.steps),
        options=options_table(serving, words),
        add_ons=add_on_views(menu, serving, words),
        allergens=allergens_of(menu, serving, words),
        cautions=cautions_with([*own, serving.drink.cautions], serving.offered, words),
        keeps=_keeps(serving, words),
        finish=_finish(serving, words),
        reading_distance_mm=menu.shop.reading_distance_mm,
        width_mm=menu.shop.card_width_mm,
        height_mm=menu.shop.card_height_mm,
        size_name=words.name(size),
    )


def _subtitle(serving: Serving, words: Words) -> str:
    has_ice = any(used.component.behaves == "ice" for used in serving.used)
    kind = "hot_drink" if serving.cup.hot else "iced" if has_ice else "no_ice_in"
    return f"{words.name(serving.cup)} · {words(kind)}"


def _keeps(serving: Serving, words: Words) -> tuple[str, ...]:
    """How long each open component keeps, shortest first."""
    found: dict[str, tuple[float, str]] = {}
    for used in serving.used:
        keeps = used.component.source.keeps_for if used.component.source else None
        if keeps is None:
            continue
        name = words.name(used.component)
        if keeps.hours is not None:
            text = words("keeps_hours", name=name, hours=round(keeps.hours, 1))
            found[name] = (keeps.hours, text)
        elif keeps.days is not None:
            text = words("keeps_days", name=name, days=keeps.days)
            found[name] = (24.0 * keeps.days, text)
    return tuple(text for _, text in sorted(found.values()))


def _finish(serving: Serving, words: Words) -> str:
    state, lid = serving.final, words(serving.cup.lid)
    if serving.verdict == "lid-pressed":
        return words("press_ice", lid=lid)
    left, proud = state.headspace_mm, state.ice_proud_mm
    parts = [words("left_under", lid=lid, mm=int(left))] if left is not None else []
    if proud is not None and proud > PROUD_MM:
        parts.append(words("ice_proud", mm=int(proud + 0.5)))
    return ". ".join(part.rstrip(".") for part in parts) + "."


WARM_C, COLD_C = 30.0, 8.0
"""Above the first a card says the temperature, up to the second it says cold; between them a
component stands at the counter. Common practice, no source."""
EVERY_CHOICE_ML = 10.0
"""A level is printed as a check only if it holds for every choice to within this; one that moved
with the sweetness would have somebody top it up."""


def step_view(serving: Serving, figure: StepFigure, words: Words) -> StepView:
    """One step: its amount as its tool measures it, and the level it reaches, if that holds for
    every sweetness and ice."""
    step, used = figure.step, figure.used
    low, high = serving.choices.seen_ml[figure.number - 1]
    line = _reached(figure, low, words) if high - low <= EVERY_CHOICE_ML else ""
    notes = [] if step.note is None else [words.text(step.note)]
    vessel = ""
    if isinstance(step, DoStep):
        amount = unit = tool = ""
        kind, what = "action", words(_action_key(serving, step))
        line = line if step.action in ("shake", "pour", "chill") else ""
        if step.seconds:
            key = "shake_for" if step.action == "shake" else "seconds"
            notes.insert(0, words(key, s=round(step.seconds)))
    else:
        amount, unit, tool = measured(figure, words)
        to_line = used is not None and used.to_line_ml is not None
        kind, what = "line" if to_line else step.component.behaves, words.name(step.component)
        line = "" if kind in ("line", "floated") else line
        vessel = words("shaker") if step.into == "shaker" else ""
        warm = step.component.temperature_c
        if warm is not None and warm > WARM_C:
            notes.insert(0, words("at_temperature", t=round(warm)))
        elif warm is not None and warm <= COLD_C and step.component.behaves == "liquid":
            notes.insert(0, words("cold"))
    return StepView(
        number=figure.number,
        amount=amount,
        unit=unit,
        what=what,
        tool=tool,
        line=line,
        note=", ".join(notes),
        station=words.name(step.station) if step.station else "",
        kind=kind,
        vessel=vessel,
    )


def _action_key(serving: Serving, step: DoStep) -> str:
    if step.action == "lid":
        return f"lid_on_{serving.cup.lid}"
    return f"do_{step.action}" + (f"_{step.pour}" if step.action == "shake" else "")


def _reached(figure: StepFigure, reading_ml: float, words: Words) -> str:
    """The level after a step, where it is one a barista can see in the cup."""
    step, state = figure.step, figure.state
    if isinstance(step, AddStep) and step.into == "shaker":
        return ""
    behaves = step.component.behaves if isinstance(step, AddStep) else "liquid"
    if behaves in ("dusted", "ice"):
        return ""
    if behaves == "liquid" and state.liquid_level_ml <= state.bed_top_ml:
        return ""  # hidden among the pearls
    return words("to_level", level=rounding.level(words, reading_ml))


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
    title = words("sweetness" if drink.sweetness else "options")
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
        name, unit = words.name(step.component), rounding.counted_in(figure, words)
        name = words("counts_of", what=name, unit=unit) if unit else words("pour_of", what=name)
        rows.append((name, *(measured(one.steps[index], words)[0] for one in choices)))
    return rows


def _base_rows(
    serving: Serving, sweets: Sequence[float | None], words: Words
) -> tuple[list[tuple[str, ...]], str, str]:
    """The base for each ice level, as rows, or as one sentence where it never changes; its name."""
    levels = serving.drink.ice
    ices: tuple[str | None, ...] = tuple(levels.levels) if levels else (None,)
    made = {(s, i): serving.choices[Choice(s, i)] for s in sweets for i in ices}
    cells = {
        choice: "–" if one.verdict == "too-much" else words.number(rounding.base_ml(one.body))
        for choice, one in made.items()
    }
    base, to_line = base_name(serving, words), pours_to_line(serving)
    others = [ice for ice in ices if ice is not None and ice != serving.choice.ice]
    notes = [_ice_name(serving, Choice(sweets[-1], ice), words) for ice in others]
    if len(set(cells.values())) == 1:
        if to_line:
            level = words("level_ml", ml=next(iter(cells.values())))
            notes.append(words("same_line", choices=base, level=level))
        return [], base, ". ".join(notes)
    if levels is None:
        label = words("line_of" if to_line else "pour_of", what=base)
        return [(label, *(cells[(s, None)] for s in sweets))], base, ""
    rows = [(words.text(levels.names[i]), *(cells[(s, i)] for s in sweets)) for i in levels.levels]
    return rows, base, ". ".join(notes)


def _ice_name(serving: Serving, choice: Choice, words: Words) -> str:
    """An ice level and how much ice it is."""
    levels = serving.drink.ice
    if levels is None or choice.ice is None:
        return ""
    name = words.text(levels.names[choice.ice])
    if levels.levels[choice.ice] == 0:
        return words("ice_left_out", name=name)
    for figure in serving.choices[choice].steps:
        if isinstance(figure.step, AddStep) and figure.step.component.behaves == "ice":
            amount, unit, _ = measured(figure, words)
            return words("ice_note", name=name, amount=f"{amount} {unit}")
    return name
