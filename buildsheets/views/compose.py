"""A checked menu and its servings go in; build card views in a reader's language come out."""

from __future__ import annotations

from collections.abc import Sequence

from buildsheets.cup.fill import PROUD_MM
from buildsheets.cup.serving import Serving
from buildsheets.menu.model import AddOn, AddStep, Menu
from buildsheets.menu.tables import contrast
from buildsheets.views import rounding
from buildsheets.views.compose_options import add_on_views, options_table
from buildsheets.views.compose_steps import step_view
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

NO_FOOT = Foot("", "", "", "", "", "")

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
        cup_name=cup_measures(serving, words),
        stations=tuple(marks[key] for key in dict.fromkeys(station.id for station in stations)),
        gauge=gauge_lines(serving, words),
        gauge_floor_mm=size.floor_mm,
        drawing=drawing(serving, words),
        steps=tuple(step_view(serving, figure, words) for figure in serving.steps),
        options=options_table(serving, words),
        add_ons=add_on_views(menu, serving, words),
        allergens=allergens_of(menu, serving, words),
        cautions=cautions_with(_components(serving), serving.offered, words),
        keeps=_keeps(serving, words),
        finish=_finish(serving, words),
        foot=NO_FOOT,
        reading_distance_mm=menu.shop.reading_distance_mm,
        width_mm=menu.shop.card_width_mm,
        height_mm=menu.shop.card_height_mm,
        size_name=size.name.in_language(language),
    )


def cup_measures(serving: Serving, words: Words) -> str:
    """What tells this cup from the others on the shelf: its capacity and its rim."""
    cup = serving.final.cup
    brimful = rounding.level_ml(cup.brimful_ml)
    return words("to_rim", ml=brimful, mm=words.number(round(cup.profile_points()[-1][1])))


def _subtitle(serving: Serving, words: Words) -> str:
    has_ice = any(used.component.behaves == "ice" for used in serving.used)
    kind = "hot_drink" if serving.cup.hot else "iced" if has_ice else "no_ice_in"
    return f"{serving.cup.name.in_language(words.language)} · {words(kind)}"


def allergens_of(menu: Menu, serving: Serving, words: Words) -> Allergens:
    """What the drink contains and may contain; never blank."""
    return allergens(words, menu, serving.allergens())


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
        keeps = used.component.source.keeps_for if used.component.source else None
        if keeps is None:
            continue
        name = used.component.name.in_language(words.language)
        if keeps.hours is not None:
            text = words("keeps_hours", name=name, hours=words.number(round(keeps.hours, 1)))
            found[name] = (keeps.hours, text)
        elif keeps.days is not None:
            text = words("keeps_days", name=name, days=words.number(keeps.days))
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


def gauge_lines(serving: Serving, words: Words) -> tuple[GaugeLine, ...]:
    """The levels a barista checks, in mm above the counter: lines, bed, cap, limit and rim."""
    floor, cup = serving.cup.floor_mm, serving.final.cup

    def line(height_mm: float, label: str, kind: str, step: int = 0) -> GaugeLine:
        return GaugeLine(round(height_mm + floor, 2), label, kind, step)

    found = []
    for figure in serving.steps:
        state, used = figure.state, figure.used
        if used is None:
            continue
        height, reading_ml, kind = used.to_line_mm, used.to_line_ml, "line"
        if reading_ml is None and used.component.behaves == "settled":
            height, reading_ml, kind = state.bed_top_mm, state.bed_top_ml, "bed"
        elif reading_ml is None and used.component.behaves == "floated":
            height, reading_ml, kind = state.cap_top_mm, state.cap_top_ml or 0.0, "cap"
        if reading_ml is None or height is None:
            continue
        label = rounding.level(words, reading_ml)
        if kind != "line":
            label = words(f"gauge_{kind}_at", level=label)
        found.append(line(height, label, kind, figure.number))
    limit = line(cup.height_mm(serving.working_ml), words("gauge_limit"), "working")
    return (*found, limit, line(cup.rim_height_mm, words("gauge_rim"), "rim"))


def drawing(serving: Serving, words: Words) -> CupDrawing:
    """The finished drink in true proportion, with its layers and lines."""
    cup = serving.final.cup
    layers = _layers(serving, words)
    return CupDrawing(
        outline_mm=cup.profile_points(),
        floor_mm=serving.cup.floor_mm,
        rim_mm=cup.rim_height_mm,
        working_mm=cup.height_mm(serving.working_ml),
        layers=layers,
        lines=tuple(
            DrawnLine(line.height_mm - serving.cup.floor_mm, line.label, line.kind)
            for line in gauge_lines(serving, words)
            if line.kind != "rim"
        ),
        alt=words(
            "cup_drawing",
            layers=words.list([layer.name for layer in layers]),
            top=rounding.level(words, serving.final.top_ml),
        ),
    )


def _layers(serving: Serving, words: Words) -> tuple[Layer, ...]:
    state = serving.final
    cup = state.cup
    layers: list[Layer] = []

    def add(kind: str, low: float, high: float, name: str, pattern: str) -> None:
        low_mm, high_mm = (cup.height_mm(min(one, cup.brimful_ml)) for one in (low, high))
        layers.append(Layer(kind, round(low_mm, 1), round(high_mm, 1), name, pattern))

    def names(behaves: str) -> list[tuple[str, float]]:
        parts = [used for used in serving.used if used.component.behaves == behaves]
        return [(u.component.name.in_language(words.language), u.volume_ml) for u in parts]

    floor = 0.0
    for i, (name, bulk_ml) in enumerate(names("settled")):
        add("bed", floor, floor + bulk_ml, name, _BED_PATTERNS[i % len(_BED_PATTERNS)])
        floor += bulk_ml
    if state.liquid_level_ml > floor:
        add("liquid", floor, state.liquid_level_ml, words("drink_layer"), "plain")
    if state.ice_bottom_ml is not None and state.ice_top_ml is not None:
        add("ice", state.ice_bottom_ml, state.ice_top_ml, words("ice_layer"), "cubes")
    caps = names("floated")
    if caps and state.cap_base_ml is not None and state.cap_top_ml is not None:
        add("cap", state.cap_base_ml, state.cap_top_ml, caps[-1][0], "grain")
    return tuple(layers)
