"""A checked menu and its servings go in; build card views in a reader's language come out."""

from __future__ import annotations

from collections.abc import Sequence

from buildsheets.cup.fill import PROUD_MM
from buildsheets.cup.serving import Choice, Serving, StepFigure
from buildsheets.menu.model import EMPTIES, AddOn, AddStep, DoStep, Menu, Swap
from buildsheets.menu.tables import SCALD_C, contrast
from buildsheets.views import rounding
from buildsheets.views.addons import (
    add_on_views,
    closing_step,
    how_pulled,
    stands_in_dome,
    straw_notes,
    where_it_goes,
)
from buildsheets.views.allergens import allergens_of, cautions_with, drink_cautions, swap_views
from buildsheets.views.amounts import (
    amount_tables,
    choices_of,
    dash_said,
    holds_always,
    of_choice,
    swaps_at,
    with_swap,
)
from buildsheets.views.cup_drawing import cup_measures, drawing
from buildsheets.views.gauge import all_lines
from buildsheets.views.keeps import keeps_of
from buildsheets.views.rounding import measured
from buildsheets.views.types import (
    AddOnView,
    BuildCardView,
    GaugeLine,
    StationMark,
    StepSwap,
    StepView,
)
from buildsheets.views.when import sold_days, sold_when
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
    add_ons = add_on_views(menu, serving, words)
    steps = tuple(step_view(serving, figure, words) for figure in serving.steps)
    offered: list[AddOn | Swap] = [*serving.drink.swaps, *serving.offered]
    return BuildCardView(
        kind="build",
        language=words.language,
        title=words.name(serving.drink),
        subtitle=_subtitle(serving, words),
        cup_name=cup_measures(serving, words),
        stations=_route(serving, add_ons, tuple(marks.values())),
        gauge=_edge(serving, steps, words),
        gauge_floor_mm=size.floor_mm,
        drawing=drawing(menu, serving, words),
        steps=steps,
        amounts=amount_tables(serving, serving.steps, words),
        options_note=_options_note(serving, words),
        add_ons=add_ons,
        allergens=allergens_of(menu, serving, words),
        cautions=cautions_with([drink_cautions(serving)], offered, words),
        keeps=keeps_of(menu.shop, [one.component for one in [*serving.used, *offered]], words),
        swaps=swap_views(menu, serving, words),
        finish=_finish(serving, words),
        reading_distance_mm=menu.shop.reading_distance_mm,
        width_mm=menu.shop.card_width_mm,
        height_mm=menu.shop.card_height_mm,
        size_name=words.name(size),
        sold=sold_when(menu, serving.drink, words),
        sold_days=sold_days(menu, serving.drink),
    )


def _edge(serving: Serving, steps: Sequence[StepView], words: Words) -> tuple[GaugeLine, ...]:
    """The marks on the card's edge: lines, and each level inside the cup that a step names."""
    found, cup = [*all_lines(serving, words)], serving.final.cup
    for figure, step in zip(serving.steps, steps, strict=True):
        seen_ml = figure.state.seen_ml
        label = rounding.level(words, seen_ml)
        if step.line and seen_ml <= cup.brimful_ml and label not in {one.label for one in found}:
            height_mm = round(cup.height_mm(seen_ml) + serving.cup.floor_mm, 2)
            found.append(GaugeLine(height_mm, label, "level", step.number))
    return tuple(sorted(found, key=lambda line: line.height_mm))


def _route(
    serving: Serving, add_ons: Sequence[AddOnView], marks: Sequence[StationMark]
) -> tuple[StationMark, ...]:
    """The stations in the order a cup with every add-on passes them, each once."""
    passed = [(one.after_step + 0.5, one.station) for one in add_ons]
    passed += [(f.number, f.step.station.letter) for f in serving.steps if f.step.station]
    by_letter = {mark.letter: mark for mark in marks}
    letters = dict.fromkeys(letter for _, letter in sorted(passed) if letter)
    return tuple(by_letter[letter] for letter in letters)


def _subtitle(serving: Serving, words: Words) -> str:
    has_ice = any(used.component.behaves == "ice" for used in serving.used)
    kind = "hot_drink" if serving.cup.hot else "iced" if has_ice else "no_ice_in"
    return f"{words.name(serving.cup)} · {words(kind)}"


def _finish(serving: Serving, words: Words) -> str:
    """How many add-ons go in, what is free under the lid or pressed by it, and how the drink is
    handed over."""
    told, more = _lid_words(serving, words), at_hand_over(serving, words)
    most = serving.drink.add_ons_at_most
    limit = [words("addons_at_most", count=most)] * (len(serving.offered) > most)
    return " ".join([*limit, f"{told.rstrip('.')}.", *more]) if limit or more else told


def at_hand_over(serving: Serving, words: Words) -> list[str]:
    """That foam does not wait, and that layers are not stirred."""
    foam = any(used.component.steamed for used in serving.used)
    keys = ["serve_at_once"] * foam + ["layers_stay"] * serving.drink.layered
    return [words(key) for key in keys]


def _lid_words(serving: Serving, words: Words) -> str:
    state, lid = serving.final, words(serving.cup.lid)
    if state.in_dome_mm:
        return words("dome_holds", lid=lid, **rounding.height(words, state.in_dome_mm))
    if serving.verdict == "lid-pressed":
        return words("press_floats" if state.contents.swims_bulk_ml else "press_ice", lid=lid)
    left, proud = state.headspace_mm, state.ice_proud_mm
    parts = []
    if left is not None:
        parts.append(words("left_under", lid=lid, **rounding.height(words, left, down=True)))
    if proud is not None and proud > PROUD_MM:
        what = "floats_proud" if state.contents.swims_bulk_ml else "ice_proud"
        parts.append(words(what, **rounding.height(words, proud)))
    return ". ".join(part.rstrip(".") for part in parts) + "."


WARM_C, COLD_C = 30.0, 8.0
"""Above the first a card says the temperature, up to the second it says cold; between them a
component stands at the counter. Common practice, no source."""


def step_view(serving: Serving, figure: StepFigure, words: Words) -> StepView:
    """One step: its amount as its tool measures it, and the level it reaches."""
    step, used = figure.step, figure.used
    notes = [] if step.note is None else [words.text(step.note)]
    vessel = ""
    if isinstance(step, DoStep):
        amount = unit = tool = ""
        kind = "action"
        if step.seconds and step.action not in ("shake", "blend"):
            notes.insert(0, words("seconds", s=round(step.seconds)))
        if step.action == "blend":
            notes.append(_at_once(serving, words))
        if step.action in ("shake", "blend") and _shakes_hot(serving, figure):
            notes.append(words("shakes_hot"))
        if step.action != "lid":
            notes += _left_out_at(serving, figure, words)
    else:
        amount, unit, tool = measured(figure, words)
        to_line = used is not None and used.to_line_ml is not None
        kind = "line" if to_line else step.component.behaves
        vessel = words(step.into) if step.into != "cup" else ""
        warm = step.component.temperature_c
        if step.component.steamed is not None:
            notes = [*_steaming(serving, figure, words), *notes]
        elif step.component.shot is not None:
            notes = [*how_pulled(step.component, words), *notes]
        elif warm is not None and warm > WARM_C:
            notes.insert(0, rounding.celsius(words, warm))
        elif warm is not None and warm <= COLD_C and step.component.behaves == "liquid":
            notes.insert(0, words("cold"))
        if step.component.behaves == "floated" and stands_in_dome(serving, step.component):
            notes.append(words("into_dome"))
        if step.note is None and _is_laid_on(serving, figure):
            ice = figure.state.contents.has_ice
            notes.append(words("layer_on_ice" if ice else "layer_on_spoon"))
        notes = [*where_it_goes(step.component, words), *notes]
        if figure.head_top_ml and _foams_high(serving, figure):
            notes.append(words("foams_high"))
    if figure.number == closing_step(serving):
        notes += straw_notes(serving, step, words)
    return StepView(
        number=figure.number,
        amount=amount,
        unit=unit,
        what=what_of(serving, figure, words),
        tool=tool,
        line=_line(serving, figure, words),
        note=", ".join(notes),
        station=words.name(step.station) if step.station else "",
        kind=kind,
        vessel=vessel,
        swaps=tuple(
            _step_swap(serving, figure, swap, (amount, unit, tool), ", ".join(notes), words)
            for swap in swaps_at(serving, figure)
        ),
    )


def _steaming(serving: Serving, figure: StepFigure, words: Words) -> list[str]:
    """How a step's milk is steamed, in place of its temperature: its amount is measured cold into
    the pitcher; the mark it grows to there, the usual one where that hangs on what a guest chooses,
    none where no mark of the pitcher is above the cold milk."""
    assert isinstance(figure.step, AddStep)
    component = figure.step.component
    steamed, what = component.steamed, words.name(component.kept or component)
    assert steamed is not None
    share = words.percent(steamed.air_share)
    notes = [words("steam_to", what=what, to=rounding.celsius(words, steamed.to_c), share=share)]

    tool = figure.step.tool

    def grown(one: StepFigure) -> str:
        cold_ml = one.used.volume_ml if one.used else 0.0
        return rounding.grown(words, tool, cold_ml, cold_ml * (1.0 + steamed.air_share))

    if usual := grown(figure):
        note = words("in_pitcher", volume=usual)
        always = holds_always(serving, figure, grown)
        notes.append(note if always else words("usually", state=note))
    return notes


def _step_swap(
    serving: Serving, figure: StepFigure, swap: Swap, usual: tuple[str, str, str], note: str,
    words: Words,
) -> StepSwap:  # fmt: skip
    """What a swap does otherwise at its step: another amount, tool or note."""
    other = step_view(serving, with_swap(serving, swap, figure.number), words)
    amount, unit = (
        (other.amount, other.unit) if (other.amount, other.unit) != usual[:2] else ("", "")
    )
    return StepSwap(
        name=words.name(swap),
        amount=amount,
        unit=unit,
        tool=other.tool if other.tool != usual[2] else "",
        note=other.note if other.note != note else "",
    )


def _shakes_hot(serving: Serving, shake: StepFigure) -> bool:
    """Whether something that scalds goes into the shaker or the blender before it runs, be it an
    add-on that is poured where the base goes."""
    before = (figure.step for figure in serving.steps[: shake.number])
    inside = [one for one in before if isinstance(one, AddStep) and one.into != "cup"]
    added = [one.component for one in inside]
    if serving.body.step in inside:
        added += [a.component for a in serving.offered if a.component.behaves == "liquid"]
    return any(one.poured_c > SCALD_C for one in added)


def _is_laid_on(serving: Serving, figure: StepFigure) -> bool:
    """Whether a step pours a liquid onto another of a drink that is served in layers."""
    step = figure.step
    liquid = isinstance(step, AddStep) and step.into == "cup" and step.component.behaves == "liquid"
    before = figure.number > 1 and serving.steps[figure.number - 2].state.liquid_ml > 0.0
    return serving.drink.layered and liquid and before


def _foams_high(serving: Serving, figure: StepFigure) -> bool:
    """Whether the foam of a step rises over the fill limit, for a choice that is made."""
    made = [serving, *serving.choices.made]
    heads = (same.head_top_ml for one in made for same in one.steps if same.step == figure.step)
    return any(head_ml > serving.working_ml for head_ml in heads)


def _left_out_at(serving: Serving, figure: StepFigure, words: Words) -> list[str]:
    """The sweetness or ice with which an action is left out, since there is nothing to do it with
    or nothing that chills."""
    rows = choices_of(serving)
    ice_names = serving.drink.ice.names if serving.drink.ice else {}

    def idle(choice: Choice) -> bool:
        return of_choice(serving, choice, figure.number).idle

    sweets = [one.sweetness for one in rows[0] if one.sweetness is not None and idle(one)]
    if sweets and len(sweets) < len(rows[0]):
        return [words("left_out_at", choices=words.percent(one)) for one in sweets]
    ices = [row[0].ice for row in rows if row[0].ice is not None and idle(row[0])]
    return [words("left_out_with", choices=words.text(ice_names[one])) for one in ices]


def what_of(serving: Serving, figure: StepFigure, words: Words) -> str:
    """What a step adds or does, as it is printed."""
    step = figure.step
    if isinstance(step, AddStep):
        return words.name(step.swap or step.component)
    if step.action == "lid":
        return words(f"lid_on_{serving.cup.lid}")
    does = f"do_shake_{step.pour}" if step.action == "shake" else f"do_{step.action}"
    if step.seconds and step.action in ("shake", "blend"):
        return words(f"{does}_for", s=round(step.seconds))
    return words(does)


def _at_once(serving: Serving, words: Words) -> str:
    """How many of a drink its blender takes at once, whatever is asked for."""
    count = serving.choices.blended_at_once
    return words("blends_at_once", count=count, size=words.name(serving.cup))


def _line(serving: Serving, figure: StepFigure, words: Words) -> str:
    """The level a step reaches: where it is a check, because it holds for every choice and says
    more than the amount; after a pour from another vessel or a chill also the usual one."""
    step, state = figure.step, figure.state
    reading = words.volumes.line(state.seen_ml)
    if isinstance(step, DoStep):
        if step.action not in (*EMPTIES, "chill"):
            return ""
    else:
        before = serving.steps[figure.number - 2].state.seen_ml if figure.number > 1 else 0.0
        hidden = state.liquid_level_ml <= state.bed_top_ml and step.component.behaves == "liquid"
        measured_by = figure.used is not None and figure.used.to_line_ml is not None
        if step.into != "cup" or step.component.behaves not in ("liquid", "settled"):
            return ""
        if state.contents.held_ml > 0.0 and figure.number < _last_liquid(serving):
            return ""  # slices on the wall are not under the drink yet
        if measured_by or hidden or not 0 < words.volumes.line(before) < reading:
            return ""
    level = rounding.level(words, state.seen_ml)
    if holds_always(serving, figure, lambda one: rounding.level(words, one.state.seen_ml)):
        return words("to_level", level=level)
    return words("usually", state=level) if isinstance(step, DoStep) else ""


def _last_liquid(serving: Serving) -> int:
    """The number of the last step that pours a liquid."""
    return max(f.number for f in serving.steps if f.used and f.used.component.behaves == "liquid")


def _options_note(serving: Serving, words: Words) -> str:
    """That the base stays the same, where a guest has a choice and none changes it, or what the
    dash in its table means."""
    drink, body = serving.drink, serving.body
    has_choice = drink.sweetness or drink.ice or serving.offered or drink.swaps
    if not has_choice:
        return ""
    if tables := amount_tables(serving, [body], words):
        return dash_said(tables, words)
    step = step_view(serving, body, words)
    return words("always", what=step.what, amount=f"{step.amount} {step.unit}")
