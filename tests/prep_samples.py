"""Small linked menus built by hand for the prep tests: an invented kiosk, no real shop."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from buildsheets.findings.finding import Span
from buildsheets.menu.model import (
    AddOn,
    AddStep,
    Amount,
    Batch,
    BatchPart,
    BatchStep,
    Component,
    CupShape,
    CupSize,
    DaySales,
    Declared,
    Drink,
    Edition,
    Ingredient,
    KeepsFor,
    LabelSheet,
    Menu,
    Nutrition,
    Pack,
    SalesLine,
    Shop,
    Text,
    Tool,
    Written,
)
from buildsheets.menu.nodes import Pair, Scalar
from buildsheets.menu.schema import keys_of

SPAN = Span("menu.yaml", 1, 1, 1, 2)

EU14 = [
    "gluten",
    "crustaceans",
    "eggs",
    "fish",
    "peanuts",
    "soybeans",
    "milk",
    "nuts",
    "celery",
    "mustard",
    "sesame",
    "sulphites",
    "lupin",
    "molluscs",
]


NUTRIENTS = tuple(key for key in keys_of(Nutrition) if key != "per")


def span(line: int) -> Span:
    """A place of its own, so that findings can be told apart."""
    return Span("menu.yaml", line, 1, line, 9)


def text(words: str | Mapping[str, str]) -> Text:
    """A text for every language, or one per language."""
    return Text({"": words} if isinstance(words, str) else dict(words))


def written(words: str = "as written") -> Written:
    return Written(words, SPAN)


def placed(**values: str) -> dict[str, Pair]:
    """The keys of a record as they would be written."""
    return {
        name: Pair(Scalar(name, False, SPAN), Scalar(value, False, SPAN))
        for name, value in values.items()
    }


def nutrition(per: str = "g", **values: float | None) -> Nutrition:
    """Nutrition with everything missing but the values given."""
    return Nutrition(span=SPAN, per=f"100 {per}", **{name: values.get(name) for name in NUTRIENTS})


def full_nutrition(per: str = "g", **values: float) -> Nutrition:
    """Nutrition with everything not given known to be zero."""
    return Nutrition(
        span=SPAN, per=f"100 {per}", **{name: values.get(name, 0.0) for name in NUTRIENTS}
    )


def keeps(
    days: int | None = None, hours: float | None = None, at_c: float | None = None
) -> KeepsFor:
    return KeepsFor(days, hours, at_c, written(f"{days or hours}"))


def pack(quantity: float, unit: str = "g", price: str | None = None, usable: float = 1.0) -> Pack:
    return Pack(
        quantity=quantity,
        unit=unit,
        price=None if price is None else Decimal(price),
        usable_share=usable,
        span=SPAN,
    )


def ingredient(id: str, **given: Any) -> Ingredient:
    """An ingredient with density 1 that declares no allergens unless told otherwise."""
    contains = given.pop("contains", ())
    may_contain = given.pop("may_contain", ())
    where = given.pop("span", SPAN)
    values: dict[str, Any] = {
        "id": id,
        "name": text(given.pop("name", id.replace("-", " "))),
        "density_g_ml": 1.0,
        "density_source": "sample",
        "contains": (),
        "declared": Declared(
            None if contains is None else tuple(contains), tuple(may_contain), where
        ),
        "span": where,
    }
    values.update(given)
    return Ingredient(**values)


def part(
    item: Ingredient | Batch,
    mass_g: float,
    volume_ml: float | None = None,
    packs: str | None = None,
    words: str = "",
) -> BatchPart:
    return BatchPart(
        item=item,
        mass_g=mass_g,
        volume_ml=volume_ml,
        packs=None if packs is None else Decimal(packs),
        span=SPAN,
        places=placed(amount=words or f"{mass_g:g} g"),
    )


def batch(id: str, parts: Sequence[BatchPart], **given: Any) -> Batch:
    """A batch without air, loss or shrinkage unless told otherwise."""
    values: dict[str, Any] = {
        "id": id,
        "name": text(given.pop("name", id.replace("-", " "))),
        "parts": tuple(parts),
        "keeps_for": keeps(days=3),
        "span": SPAN,
    }
    values.update(given)
    return Batch(**values)


def batch_step(words: str, seconds: float | None = None, **given: Any) -> BatchStep:
    return BatchStep(text=text(words), time_s=seconds, span=SPAN, **given)


def component(id: str, source: Ingredient | Batch | None, **given: Any) -> Component:
    """A liquid base of density 1 unless told otherwise."""
    values: dict[str, Any] = {
        "id": id,
        "role": "base",
        "name": text(given.pop("name", id.replace("-", " "))),
        "source": source,
        "density_g_ml": 1.0,
        "density_origin": "sample",
        "span": SPAN,
    }
    values.update(given)
    return Component(**values)


def amount(mass_g: float, volume_ml: float | None = None, words: str = "") -> Amount:
    return Amount(
        mass_g, mass_g if volume_ml is None else volume_ml, None, written(words or f"{mass_g:g} g")
    )


def cup(id: str = "regular", **given: Any) -> CupSize:
    """The 500 class example cup of the fill model: base 58, rim 91, height 114 mm."""
    values: dict[str, Any] = {
        "id": id,
        "name": text(given.pop("name", id)),
        "shape": CupShape(frustum=(58.0, 91.0, 114.0)),
        "floor_mm": 3.0,
        "headspace_mm": 5.0,
        "lid": "flat",
        "shape_written": written(),
        "span": SPAN,
    }
    values.update(given)
    return CupSize(**values)


def add_step(what: Component, amounts: Mapping[str, Amount], **given: Any) -> AddStep:
    return AddStep(component=what, amounts=dict(amounts), span=SPAN, **given)


def add_on(id: str, what: Component, grams: float, price: str | None = None) -> AddOn:
    amounts = {"regular": amount(grams), "large": amount(grams * 1.5)}
    return AddOn(
        id=id,
        name=text(id),
        component=what,
        amounts=amounts,
        price=None if price is None else Decimal(price),
        span=SPAN,
    )


def drink(id: str, steps: Sequence[AddStep], **given: Any) -> Drink:
    values: dict[str, Any] = {
        "id": id,
        "name": text(given.pop("name", id.replace("-", " "))),
        "group": "tea",
        "cups": (cup(),),
        "steps": tuple(steps),
        "add_ons_at_most": 2,
        "lid_may_press": True,
        "span": SPAN,
    }
    values.update(given)
    return Drink(**values)


def scale_tool(step_g: float = 1.0) -> Tool:
    return Tool(id="scale", name=text("scale"), kind="scale", unit="g", step=step_g, span=SPAN)


def label_sheet() -> LabelSheet:
    """Three across and seven down on A4: 3 x 63.5 + 2 x 2.5 gaps, 7 x 38.1 without gaps."""
    return label_sheet_of(210.0, 297.0, 63.5, 38.1, 3, 7, 7.25, 15.15, 66.0, 38.1)


def label_sheet_of(*measures: float) -> LabelSheet:
    """A sheet by its measures, in the order of the keys."""
    names = [key.fields[0][0] for key in keys_of(LabelSheet).values()]
    values: dict[str, Any] = dict(zip(names, measures, strict=True))
    return LabelSheet(span=SPAN, **values)


def shop(**given: Any) -> Shop:
    values: dict[str, Any] = {
        "name": text("Corner kiosk"),
        "languages": ("en", "es"),
        "measures": "metric",
        "currency": "EUR",
        "allergen_list": "eu14",
        "allergens": {name: text(name) for name in EU14},
        "shelf_rules": "us-food-code",
        "rule_days": 7,
        "cold_limit_c": 5.0,
        "hot_limit_c": 57.0,
        "label_rules": "eu",
        "time_zone": "Europe/Madrid",
        "card_mm": (148.0, 210.0),
        "round_error_warn_share": 0.05,
        "span": SPAN,
    }
    values.update(given)
    return Shop(**values)


def menu(**given: Any) -> Menu:
    """A menu of the entries given; everything those entries point at is entered too."""
    drinks: tuple[Drink, ...] = tuple(given.pop("drinks", ()))
    batches: dict[str, Batch] = {b.id: b for b in given.pop("batches", ())}
    ingredients: dict[str, Ingredient] = {i.id: i for i in given.pop("ingredients", ())}
    components: dict[str, Component] = {c.id: c for c in given.pop("components", ())}
    add_ons: dict[str, AddOn] = {}
    for one in drinks:
        for step in one.steps:
            if isinstance(step, AddStep):
                components.setdefault(step.component.id, step.component)
        for extra in one.add_ons:
            add_ons.setdefault(extra.id, extra)
            components.setdefault(extra.component.id, extra.component)

    def enter(item: Ingredient | Batch | None) -> None:
        if isinstance(item, Ingredient):
            ingredients.setdefault(item.id, item)
        elif isinstance(item, Batch):
            batches.setdefault(item.id, item)
            for inner in item.parts:
                enter(inner.item)

    for named in tuple(components.values()):
        enter(named.source)
    for made in tuple(batches.values()):
        enter(made)
    tools: tuple[Tool, ...] = tuple(given.pop("tools", (scale_tool(),)))
    days: tuple[DaySales, ...] = tuple(given.pop("days", ()))
    return Menu(
        shop=given.pop("shop", None) or shop(),
        edition=Edition(
            code="A1",
            name=text("Sample"),
            valid_from=date(2026, 3, 1),
            valid_to=date(2026, 9, 30),
            span=SPAN,
        ),
        span=SPAN,
        stations={},
        tools={tool.id: tool for tool in tools},
        cups={c.id: c for one in drinks for c in one.cups},
        ingredients=ingredients,
        batches=batches,
        components=components,
        add_ons=add_ons,
        drinks={one.id: one for one in drinks},
        days={day.id: day for day in days},
    )


def day(lines: Sequence[SalesLine], opens: int = 600, closes: int = 1320) -> DaySales:
    """A day open from 10:00 to 22:00 unless told otherwise."""
    return DaySales(
        id="saturday",
        name=text("Saturday"),
        opens_at_minutes=opens,
        closes_at_minutes=closes + (24 * 60 if closes <= opens else 0),
        lines=tuple(lines),
        span=SPAN,
    )


def sold(what: Drink, count: int, size: CupSize | None = None, **add_ons: int) -> SalesLine:
    extras = {extra.id.replace("-", "_"): extra for extra in what.add_ons}
    return SalesLine(
        drink=what,
        cup=size or what.cups[0],
        count=count,
        add_ons=tuple((extras[name], number) for name, number in add_ons.items()),
    )
