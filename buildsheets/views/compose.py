"""A checked menu and its servings go in; build card views in a reader's language come out."""

from __future__ import annotations

from collections.abc import Sequence

from buildsheets.cup.fill import FillState
from buildsheets.cup.options import add_ons_for
from buildsheets.cup.plan import cup_of
from buildsheets.cup.serving import Serving, StepFigure
from buildsheets.menu.model import AddOn, AddStep, Batch, CupSize, Ingredient, Menu
from buildsheets.menu.tables import contrast
from buildsheets.prep.allergens import of_drink
from buildsheets.views import shown
from buildsheets.views.compose_options import add_on_views, options_table
from buildsheets.views.compose_steps import step_views
from buildsheets.views.prep_words import allergens
from buildsheets.views.views import (
    Allergens,
    BuildCardView,
    CupDrawing,
    DrawnLine,
    Foot,
    GaugeLine,
    Layer,
    StationMark,
)
from buildsheets.views.words import Words

SHAPES = ("disc", "square", "hexagon", "diamond", "shield", "house")

PROUD_MM = 3.0
"""Ice standing out by less is not worth a word (fill model, "What to show to a barista")."""

NO_FOOT = Foot("", "", "", "", "", "")

_PATTERNS = {"liquid": "plain", "ice": "cubes", "cap": "grain"}
_BED_PATTERNS = ("dots", "hatch", "wave")

_CAUTIONS = ("hot", "choking", "honey", "alcohol", "raw-egg", "caffeine")
_SHARED = ("choking",)
"""Cautions whose words fit whichever topping brings them; the others name the add-on."""


def station_marks(menu: Menu, language: str) -> dict[str, StationMark]:
    """How each station is marked: its letter in a shape of its own, in menu order."""
    return {
        key: StationMark(
            station.name.in_language(language),
            station.letter,
            station.accent,
            "#ffffff" if contrast("#ffffff", station.accent) >= 4.5 else "#000000",
            SHAPES[i % len(SHAPES)],
        )
        for i, (key, station) in enumerate(menu.stations.items())
    }


def build_view(menu: Menu, serving: Serving, words: Words) -> BuildCardView:
    """The whole build of a drink in a cup, made as nobody asked to change it; without a foot."""
    language = words.language
    drink, size = serving.drink, serving.cup
    marks = station_marks(menu, language)
    stations = [step.step.station for step in serving.steps if step.step.station is not None]
    return BuildCardView(
        kind="build",
        language=language,
        code="",
        title=drink.name.in_language(language),
        subtitle=_subtitle(serving, words),
        cup_name=cup_measures(size, words),
        stations=tuple(marks[key] for key in dict.fromkeys(station.id for station in stations)),
        gauge=gauge_lines(serving, words),
        gauge_floor_mm=size.floor_mm,
        drawing=drawing(serving, words),
        steps=step_views(serving, words),
        options=options_table(serving, words),
        add_ons=add_on_views(menu, serving, words),
        allergens=allergens_of(menu, serving, words),
        cautions=cautions_with(
            _components(serving), add_ons_for(serving.drink, serving.cup), words
        ),
        keeps=_keeps(serving, words),
        finish=_finish(serving, words),
        foot=NO_FOOT,
        reading_distance_mm=menu.shop.reading_distance_mm,
        width_mm=menu.shop.card_width_mm,
        height_mm=menu.shop.card_height_mm,
        size_name=size.name.in_language(language),
    )


def cup_name(size: CupSize, words: Words) -> str:
    """The cup and what it holds to the rim."""
    brimful = shown.level_ml(cup_of(size.shape).brimful_ml)
    return words("cup_of", name=size.name.in_language(words.language), ml=brimful)


def cup_measures(size: CupSize, words: Words) -> str:
    """What tells this cup from the others on the shelf: its capacity and its rim."""
    cup = cup_of(size.shape)
    rim_mm = cup.profile_points()[-1][1]
    brimful = shown.level_ml(cup.brimful_ml)
    return words("to_rim", ml=brimful, mm=words.number(round(rim_mm)))


def _subtitle(serving: Serving, words: Words) -> str:
    kind = "hot_drink" if serving.cup.hot else "iced" if _has_ice(serving) else "no_ice_in"
    return f"{serving.cup.name.in_language(words.language)} · {words(kind)}"


def _has_ice(serving: Serving) -> bool:
    return any(used.component.behaves == "ice" for used in serving.used)


def allergens_of(menu: Menu, serving: Serving, words: Words) -> Allergens:
    """What the drink contains and may contain; never blank."""
    return allergens(words, menu, of_drink(serving.drink, cup=serving.cup.id))


def cautions_with(
    own: Sequence[tuple[str, ...]], add_ons: Sequence[AddOn], words: Words
) -> tuple[str, ...]:
    """Cautions of what is in the cup anyway and of the add-ons on offer; what only add-ons bring
    stands first, with their names."""
    known = {*_SHARED, *(caution for group in own for caution in group)}
    only = {
        key: [a.name.in_language(words.language) for a in add_ons if key in a.component.cautions]
        for key in _CAUTIONS
        if key not in known
    }
    shared = [tuple(k for k in a.component.cautions if k in _SHARED) for a in add_ons]
    return (
        *(
            words("caution_with", names=words.list(names), caution=words(f"caution_{key}"))
            for key, names in only.items()
            if names
        ),
        *cautions_of([*own, *shared], words),
    )


def _components(serving: Serving) -> list[tuple[str, ...]]:
    steps = [figure.step for figure in serving.steps]
    found = [step.component.cautions for step in steps if isinstance(step, AddStep)]
    return [*found, serving.drink.cautions]


def cautions_of(cautions: Sequence[tuple[str, ...]], words: Words) -> tuple[str, ...]:
    """The usual cautions, each once, the gravest first, and the one about shared tools."""
    named = {caution for group in cautions for caution in group}
    keys = [key for key in _CAUTIONS if key in named]
    return tuple(words(f"caution_{key}") for key in [*keys, "cross"])


def _keeps(serving: Serving, words: Words) -> tuple[str, ...]:
    """How long each open component keeps, shortest first."""
    found: dict[str, tuple[float, str]] = {}
    for used in serving.used:
        source: Ingredient | Batch | None = used.component.source
        if source is None or source.keeps_for is None:
            continue
        keeps = source.keeps_for
        name = used.component.name.in_language(words.language)
        if keeps.hours is not None:
            text = words("keeps_hours", name=name, hours=words.number(round(keeps.hours, 1)))
            found[name] = (keeps.hours, text)
        elif keeps.days is not None:
            text = words("keeps_days", name=name, days=words.number(keeps.days))
            found[name] = (24.0 * keeps.days, text)
    return tuple(text for _, text in sorted(found.values()))


def _finish(serving: Serving, words: Words) -> str:
    size, state = serving.cup, serving.final
    lid = words(size.lid)
    if serving.verdict == "lid-pressed":
        return words("press_ice", lid=lid)
    left = state.headspace_mm
    parts = [words("left_under", lid=lid, mm=int(left))] if left is not None else []
    proud = state.ice_proud_mm
    if proud is not None and proud > PROUD_MM:
        parts.append(words("ice_proud", mm=int(proud + 0.5)))
    return ". ".join(part.rstrip(".") for part in parts) + "."


def gauge_lines(serving: Serving, words: Words) -> tuple[GaugeLine, ...]:
    """The levels a barista checks, in mm above the counter: lines, bed, cap, limit and rim."""
    floor = serving.cup.floor_mm
    cup = cup_of(serving.cup.shape)
    found: list[GaugeLine] = []
    for step in serving.steps:
        line = _gauge_line(step, floor, words)
        if line is not None:
            found.append(line)
    limit_mm = cup.height_mm(serving.working_ml)
    limit = GaugeLine(round(limit_mm + floor, 2), words("gauge_limit"), "working")
    rim = GaugeLine(round(cup.rim_height_mm + floor, 2), words("gauge_rim"), "rim")
    return (*found, limit, rim)


def _gauge_line(figure: StepFigure, floor_mm: float, words: Words) -> GaugeLine | None:
    state, used = figure.state, figure.used
    if state is None or used is None:
        return None
    height, label, kind = None, "", ""
    if used.to_line_ml is not None:
        height, kind = used.to_line_mm, "line"
        label = words("level_ml", ml=shown.level_ml(used.to_line_ml))
    elif used.component.behaves == "settled":
        height, kind = state.bed_top_mm, "bed"
        level = words("level_ml", ml=shown.level_ml(state.bed_top_ml))
        label = words("gauge_bed_at", level=level)
    elif used.component.behaves == "floated":
        height, kind = state.cap_top_mm, "cap"
        level = words("level_ml", ml=shown.level_ml(state.cap_top_ml or 0.0))
        label = words("gauge_cap_at", level=level)
    if height is None:
        return None
    return GaugeLine(round(height + floor_mm, 2), label, kind, figure.number)


def drawing(serving: Serving, words: Words) -> CupDrawing:
    """The finished drink in true proportion, with its layers and lines."""
    state = serving.final
    cup = cup_of(serving.cup.shape)
    language = words.language
    layers = _layers(serving, state, language, words)
    lines = tuple(
        DrawnLine(line.height_mm - serving.cup.floor_mm, line.label, line.kind)
        for line in gauge_lines(serving, words)
        if line.kind != "rim"
    )
    top = words("level_ml", ml=shown.level_ml(state.top_ml))
    return CupDrawing(
        outline_mm=cup.profile_points(),
        floor_mm=serving.cup.floor_mm,
        rim_mm=cup.rim_height_mm,
        working_mm=cup.height_mm(serving.working_ml),
        layers=layers,
        lines=lines,
        alt=words("cup_drawing", layers=words.list([la.name for la in layers]), top=top),
    )


def _layers(serving: Serving, state: FillState, language: str, words: Words) -> tuple[Layer, ...]:
    cup = cup_of(serving.cup.shape)

    def mm(reading: float) -> float:
        return round(cup.height_mm(min(reading, cup.brimful_ml)), 1)

    layers: list[Layer] = []
    settled = [u for u in serving.used if u.component.behaves == "settled"]
    floor = 0.0
    for i, used in enumerate(settled):
        top = floor + used.volume_ml
        name = used.component.name.in_language(language)
        pattern = _BED_PATTERNS[i % len(_BED_PATTERNS)]
        layers.append(Layer("bed", mm(floor), mm(top), name, pattern))
        floor = top
    level = state.liquid_level_ml
    if level > floor:
        layers.append(
            Layer("liquid", mm(floor), mm(level), words("drink_layer"), _PATTERNS["liquid"])
        )
    if state.ice_bottom_ml is not None and state.ice_top_ml is not None:
        layers.append(
            Layer(
                "ice",
                mm(state.ice_bottom_ml),
                mm(state.ice_top_ml),
                words("ice_layer"),
                _PATTERNS["ice"],
            )
        )
    caps = [u for u in serving.used if u.component.behaves == "floated"]
    if caps and state.cap_base_ml is not None and state.cap_top_ml is not None:
        name = caps[-1].component.name.in_language(language)
        layers.append(
            Layer("cap", mm(state.cap_base_ml), mm(state.cap_top_ml), name, _PATTERNS["cap"])
        )
    return tuple(layers)
