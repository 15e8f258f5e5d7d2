"""Bases, sweeteners, toppings and ice linked: written entries in, components out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from buildsheets.findings.finding import At, Label, Span
from buildsheets.menu.linking import Linker, text, written
from buildsheets.menu.model import (
    Amount,
    Batch,
    Component,
    Declared,
    Ingredient,
    Shop,
    Station,
    Tool,
)
from buildsheets.menu.quantity import Quantity
from buildsheets.menu.shapes import Lost
from buildsheets.menu.tables import ICE_DENSITY_G_ML, ICE_PACKING
from buildsheets.menu.written_drinks import (
    WrittenComponent,
    WrittenIce,
    WrittenLiquid,
    WrittenMenu,
    WrittenTopping,
)

ICE_TEMPERATURE_C = 0.0
"""Wet ice from an open bin; common practice, no source."""

COLDEST_ICE_C = -60.0
"""Below that no freezer of a shop goes; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Stock:
    """What components are made of and where they are added, with the ids that were lost."""

    shop: Shop
    ingredients: Mapping[str, Ingredient]
    batches: Mapping[str, Batch]
    tools: Mapping[str, Tool]
    stations: Mapping[str, Station]
    items_lost: Lost
    tools_lost: Lost
    stations_lost: Lost


def components(link: Linker, w: WrittenMenu, stock: Stock) -> dict[str, Component]:
    """Every component under one name space, since a step's ``add`` may name any of them."""
    found: dict[str, Component] = {}
    spans: dict[str, Span] = {}
    for role, section in (
        ("base", w.bases),
        ("sweetener", w.sweeteners),
        ("topping", w.toppings),
        ("ice", w.ice),
    ):
        for key, entry in section.items.items():
            span = section.key_spans[key]
            if key in spans:
                link.error(
                    "REF02",
                    span,
                    f"'{key}' is the name of two components",
                    hint="bases, sweeteners, toppings and ice share one list of names",
                    labels=(Label(spans[key], "first here"),),
                )
                continue
            spans[key] = span
            component = (
                _ice(link, key, entry, stock)
                if isinstance(entry, WrittenIce)
                else _component(link, key, role, entry, stock)
            )
            if component is not None:
                found[key] = component
    return found


def components_lost(w: WrittenMenu, found: Mapping[str, Component]) -> Lost:
    """Component ids that are written but could not be linked."""
    return (
        w.bases.lost(found) | w.sweeteners.lost(found) | w.toppings.lost(found) | w.ice.lost(found)
    )


def _ice(link: Linker, key: str, w: WrittenIce, stock: Stock) -> Component | None:
    packing = link.within(w.packing, "the packing", 0.01, 0.99, "from 1 to 99 %")
    contains = link.allergens(w.contains, stock.shop.allergens)
    temperature = link.within(
        w.temperature, "the temperature of ice", COLDEST_ICE_C, 0.0, "from -60 to 0 °C"
    )
    tool = link.find(w.tool, stock.tools, "tool", stock.tools_lost)
    station = link.find(w.station, stock.stations, "station", stock.stations_lost)
    if (w.tool and not tool) or (w.station and not station):
        return None
    return Component(
        id=key,
        role="ice",
        behaves="ice",
        name=text(w.name),
        source=None,
        declared=Declared(contains, (), w.span),
        density_g_ml=link.positive(w.density, "the density") or ICE_DENSITY_G_ML,
        density_origin="written here" if w.density else "IAPWS R10-06, 0 °C",
        bulk_density_g_ml=None,
        packing=packing if packing is not None else ICE_PACKING,
        overrun_pct=0.0,
        temperature_c=ICE_TEMPERATURE_C if temperature is None else temperature,
        brix=None,
        tool=tool,
        station=station,
        cautions=("choking",),
        dairy_stir=None,
        span=w.span,
    )


def _component(
    link: Linker, key: str, role: str, w: WrittenLiquid | WrittenTopping, stock: Stock
) -> Component | None:
    known: dict[str, Ingredient | Batch] = {**stock.ingredients, **stock.batches}
    source = link.find(w.source, known, "ingredient or batch", stock.items_lost)
    tool = link.find(w.tool, stock.tools, "tool", stock.tools_lost)
    station = link.find(w.station, stock.stations, "station", stock.stations_lost)
    if source is None or (w.tool and not tool) or (w.station and not station):
        return None
    behaves = w.behaves.value if isinstance(w, WrittenTopping) else "liquid"
    density = link.positive(w.density, "the density")
    origin = "written here"
    if density is None and behaves != "settled":
        density, origin = source.density_g_ml, f"from {source.id}"
    bulk: float | None = None
    if isinstance(w, WrittenTopping) and behaves == "settled":
        bulk = link.positive(w.bulk_density, "the bulk density")
        if w.bulk_density is None or w.density is None:
            link.error(
                "DEN03",
                w.span,
                f"'{key}' settles in the cup: it needs density and bulk_density",
                hint="density of a piece by how much water it pushes up; bulk density by "
                "weighing a level jug of it",
            )
            return None
        if bulk is None or density is None:
            return None
        if bulk >= density:
            link.error(
                "DEN04",
                w.at("bulk_density"),
                f"a heap of '{key}' cannot weigh {bulk:g} g/ml when its pieces weigh "
                f"{density:g} g/ml",
                hint="a heap has gaps, so its bulk density is the smaller figure",
                labels=(Label(w.at("density"), "of the piece"),),
            )
            return None
    if density is None and behaves == "dusted":
        density, origin = 1.0, "takes no room"
    if density is None:
        link.lacks_density(
            source,
            w.source.span,
            f"'{source.id}' has no density, so the room '{key}' takes is not known",
            "give it, or what it is made of, a density with its source, or its Brix",
        )
        return None
    return Component(
        id=key,
        role=role,
        behaves=behaves,
        name=text(w.name) if w.name else source.name,
        source=source,
        declared=None,
        density_g_ml=density,
        density_origin=origin,
        bulk_density_g_ml=bulk,
        packing=None,
        overrun_pct=_overrun_pct(w, source, behaves),
        temperature_c=w.temperature.value.value if w.temperature else _served_at(source),
        brix=source.brix if isinstance(source, Ingredient) else None,
        tool=tool,
        station=station,
        cautions=_cautions(w, source),
        dairy_stir=text(w.note) if w.note else None,
        span=w.span,
    )


def _overrun_pct(w: WrittenComponent, source: Ingredient | Batch, behaves: str) -> float:
    if behaves != "floated":
        return 0.0
    if isinstance(w, WrittenTopping) and w.overrun is not None:
        return 100.0 * w.overrun.value.value
    return source.overrun_pct if isinstance(source, Batch) else 0.0


def _served_at(source: Ingredient | Batch) -> float | None:
    return source.serves_at_c if isinstance(source, Batch) else None


def _cautions(w: WrittenComponent, source: Ingredient | Batch) -> tuple[str, ...]:
    """Own cautions and those of everything it is made of, each once.

    A batch that is hot in the making is not hot in the cup: "hot" is the component's own word.
    """
    found: list[str] = [caution.value for caution in w.cautions]
    waiting: list[Ingredient | Batch] = [source]
    while waiting:
        item = waiting.pop()
        found += [caution for caution in item.cautions if caution != "hot"]
        if isinstance(item, Batch):
            waiting += [part.item for part in item.parts]
    return tuple(dict.fromkeys(found))


def amount(
    link: Linker, leaf: At[Quantity], component: Component, tool: Tool | None
) -> Amount | None:
    """A written amount as grams and ml of this component, or a finding and ``None``.

    ml of a floated cap are aerated ml; ml of a settled topping or of ice are bulk ml.
    """
    if link.positive(leaf, "the amount", zero=True) is None:
        return None
    quantity = leaf.value
    count: float | None = None
    number, unit = quantity.value, "g" if quantity.kind == "mass" else "ml"
    if quantity.kind == "tool":
        if tool is None or tool.kind != quantity.unit:
            has = f"is measured with '{tool.id}', a {tool.kind}" if tool else "has no tool"
            link.error(
                "TOOL02",
                leaf.span,
                f"'{leaf.raw}' of '{component.id}', which {has}",
                hint=f"name a tool of kind {quantity.unit}, or write ml or g",
                labels=(Label(component.span, "declared here"),),
            )
            return None
        holds = tool.holds_ml if tool.holds_ml is not None else tool.holds_g
        if holds is None:
            link.error(
                "TOOL01",
                leaf.span,
                f"'{leaf.raw}': nothing says what one {tool.kind} of '{tool.id}' holds",
                hint="add holds: 8 ml, or holds: 55 g",
                labels=(Label(tool.span, "the tool"),),
            )
            return None
        count, number = quantity.value, quantity.value * holds
        unit = "ml" if tool.holds_ml is not None else "g"
    per_ml = grams_per_ml(component)
    mass = number if unit == "g" else number * per_ml
    return Amount(mass, mass / per_ml, count, written(leaf))


def grams_per_ml(component: Component) -> float:
    """Grams in one ml as it is measured out: bulk ml of beds and ice, aerated ml of caps."""
    if component.behaves == "settled" and component.bulk_density_g_ml is not None:
        return component.bulk_density_g_ml
    if component.behaves == "ice" and component.packing is not None:
        return component.density_g_ml * component.packing
    return component.density_g_ml / (1.0 + component.overrun_pct / 100.0)
