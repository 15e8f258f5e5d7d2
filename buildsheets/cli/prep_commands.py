"""The prep station's commands: a checked menu and a wish go in; text, CSV, JSON or PDF comes out.

Each function returns a :class:`Made`; nothing is printed or written here. A wish that cannot be
met (an unknown name, a batch without a yield) raises ``ValueError`` with words for the reader.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any, Literal

from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Finding
from buildsheets.findings.spelling import listed, nearest
from buildsheets.menu.model import Batch, LabelSheet, Menu
from buildsheets.prep import allergens as allergen_figures
from buildsheets.prep.batches import (
    Portion,
    figure_batch,
    portions,
    scale_step_g,
)
from buildsheets.prep.costing import DrinkCost, drink_cost, repriced, with_price
from buildsheets.prep.dayplan import plan_day
from buildsheets.prep.dayplan_json import plan_json
from buildsheets.prep.facts import facts_json, facts_of
from buildsheets.prep.keeping import keeping, keeping_json
from buildsheets.prep.prep_json import batch_json, cost_json, serving_json
from buildsheets.prep.scaling import (
    Scaling,
    for_amount,
    for_containers,
    for_factor,
    for_packs,
    for_portions,
    for_stock,
)
from buildsheets.prep.shelf import Frozen
from buildsheets.print.layouts import Layouts
from buildsheets.views import batch_compose, plain, prep_compose, sheet_compose
from buildsheets.views.facts_compose import facts_sheet
from buildsheets.views.prep_views import AnyView

Form = Literal["text", "csv", "json", "pdf"]


@dataclass(frozen=True, slots=True)
class Made:
    """What a command made: ``text`` (text, CSV or JSON) or ``pdf``, and findings of the print."""

    text: str = ""
    pdf: bytes = b""
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Wish:
    """How much of a batch is wanted: exactly one of these is given, else a full batch.

    ``portions`` counts by cup id or "component:cup"; ``packs`` are of ``of`` or the batch's lead;
    ``stock_g`` are the grams in stock by ingredient id; ``containers`` hold ``container_ml`` each.
    """

    factor: float | None = None
    scale: str | None = None
    portions: Mapping[str, int] = field(default_factory=dict)
    packs: float | None = None
    of: str | None = None
    containers: int | None = None
    container_ml: float | None = None
    yield_g: float | None = None
    yield_ml: float | None = None
    stock_g: Mapping[str, float] = field(default_factory=dict)


def plan(
    menu: Menu,
    servings: Sequence[Serving],
    day: str,
    *,
    form: Form = "text",
    language: str = "",
    layouts: Layouts | None = None,
) -> Made:
    """A day's plan: what to make and when, what to have ready, what to buy, what is left."""
    words = _words(menu, language, layouts)
    sold = _named("day", day, menu.days)
    made = plan_day(menu, sold, {(s.drink.id, s.cup.id): s for s in reversed(servings)})
    if form == "json":
        return Made(_json(plan_json(made, words.language)))
    view = sheet_compose.prep_sheet(menu, made, words)
    return Made(plain.sheet_text(view)) if form == "text" else _print([view], menu, layouts)


def labels(
    menu: Menu,
    copies: Mapping[str, int],
    prepared_at: datetime,
    *,
    opened: Mapping[str, datetime] | None = None,
    made: Mapping[str, datetime] | None = None,
    frozen: Sequence[Frozen] = (),
    skip: int = 0,
    sheet: LabelSheet | None = None,
    calendar: bool = False,
    form: Form = "text",
    language: str = "",
    layouts: Layouts | None = None,
) -> Made:
    """Date labels of batches (id to number of labels) made at a moment, or their calendar.

    A time without a zone is the shop's. The label sheet is the shop's own unless one is given.
    """
    words = _words(menu, language, layouts)
    batches = [(_named("batch", id_, menu.batches), number) for id_, number in copies.items()]
    kept = [
        (keeping(menu.shop, b, prepared_at, opened=opened, made=made, frozen=frozen), n)
        for b, n in batches
    ]
    if form == "json":
        return Made(_json([keeping_json(one, words.language) for one, _ in kept]))
    if calendar:
        view = prep_compose.calendar(menu, [one for one, _ in kept], words)
        return Made(plain.sheet_text(view)) if form == "text" else _print([view], menu, layouts)
    stock = sheet or menu.shop.label_sheet
    if stock is None:
        raise ValueError("no label sheet: give the shop a label_sheet measured in mm")
    views = prep_compose.label_sheets(menu, kept, words, stock, skip=skip)
    return Made(plain.labels_text(views)) if form == "text" else _print(views, menu, layouts)


def costs(
    menu: Menu,
    servings: Iterable[Serving],
    *,
    what_if: tuple[str, Decimal] | None = None,
    form: Form = "text",
    language: str = "",
    layouts: Layouts | None = None,
) -> Made:
    """Cost, price and margin of servings; ``what_if`` gives one ingredient's pack another price.

    Hand over default servings for the owner's sheet, or every choice for a spreadsheet.
    """
    words = _words(menu, language, layouts)
    now = [drink_cost(serving) for serving in servings]
    then: list[DrinkCost] = []
    said = ""
    if what_if is not None:
        id_, price = what_if
        item = _named("ingredient", id_, menu.ingredients)
        dearer = with_price(menu, id_, price)
        then = [drink_cost(repriced(one.serving, dearer)) for one in now]
        before = item.pack.price if item.pack is not None else None
        currency = menu.shop.currency
        said = words(
            "prep_what_if",
            name=item.name.in_language(words.language),
            price=words.money(price, currency),
            before=words("prep_no_price") if before is None else words.money(before, currency),
        )
    if form == "csv":
        return Made(sheet_compose.cost_csv(then or now))
    if form == "json":
        rows = [cost_json(one) for one in now]
        for row, one in zip(rows, then, strict=False):
            row["what_if"] = cost_json(one)
        return Made(_json(rows))
    view = sheet_compose.cost_sheet(menu, now, words, after=then, what_if=said)
    return Made(plain.sheet_text(view)) if form == "text" else _print([view], menu, layouts)


def facts(
    menu: Menu,
    servings: Sequence[Serving],
    *,
    form: Form = "text",
    language: str = "",
    layouts: Layouts | None = None,
) -> Made:
    """Nutrition, sugar, Brix and caffeine of servings by the shop's label rules."""
    words = _words(menu, language, layouts)
    if form == "json":
        rules = menu.shop.label_rules
        return Made(
            _json([{**serving_json(s), "facts": facts_json(facts_of(s), rules)} for s in servings])
        )
    view = facts_sheet(menu, servings, words)
    return Made(plain.sheet_text(view)) if form == "text" else _print([view], menu, layouts)


def allergens(
    menu: Menu, *, form: Form = "text", language: str = "", layouts: Layouts | None = None
) -> Made:
    """Every drink and add-on against every allergen; as JSON with the path that brought each."""
    words = _words(menu, language, layouts)
    if form == "json":
        found: dict[str, Any] = {
            drink.id: allergen_figures.report_json(allergen_figures.of_drink(drink), words.language)
            for drink in menu.drinks.values()
        }
        found |= {
            add_on.id: allergen_figures.report_json(
                allergen_figures.of_add_on(add_on), words.language
            )
            for add_on in menu.add_ons.values()
        }
        return Made(_json(found))
    view = prep_compose.allergen_matrix(menu, words)
    return Made(plain.matrix_text(view)) if form == "text" else _print([view], menu, layouts)


def scale_batch(
    menu: Menu,
    batch: str,
    wish: Wish,
    *,
    servings: Sequence[Serving] = (),
    form: Form = "text",
    language: str = "",
    layouts: Layouts | None = None,
) -> Made:
    """A batch at the scale a wish asks for: its card, or all its figures as JSON."""
    words = _words(menu, language, layouts)
    entry = _named("batch", batch, menu.batches)
    poured = poured_grams(servings)
    scaling = wished(menu, entry, wish, poured)
    figure = figure_batch(entry, scaling.factor, scale_step_g(menu))
    if form == "json":
        return Made(_json(batch_json(menu, figure, scaling, poured, wish.container_ml)))
    name = wish.scale or ""
    view = batch_compose.batch_card(menu, entry, name, scaling.factor, words, poured)
    if form == "text":
        return Made(plain.batch_text(view, words))
    return _print([view], menu, layouts)


def wished(
    menu: Menu, batch: Batch, wish: Wish, poured: Mapping[tuple[str, str, str], float]
) -> Scaling:
    """The factor a wish asks for."""
    if wish.scale is not None:
        if wish.scale not in batch.scales:
            raise ValueError(f"'{batch.id}' is made at {listed(batch.scales)}, not '{wish.scale}'")
        return for_factor(batch.scales[wish.scale])
    if wish.factor is not None:
        return for_factor(wish.factor)
    if wish.portions:
        known = portions(menu, figure_batch(batch), poured)
        wanted = [(_portion(batch, key, known), n) for key, n in wish.portions.items()]
        return for_portions(batch, wanted)
    if wish.packs is not None:
        items = {part.item.id: part.item for part in batch.parts}
        return for_packs(batch, wish.packs, _named("part", wish.of, items) if wish.of else None)
    if wish.containers is not None:
        return for_containers(batch, wish.containers, wish.container_ml or 0.0)
    if wish.yield_g is not None or wish.yield_ml is not None:
        return for_amount(batch, yield_g=wish.yield_g, yield_ml=wish.yield_ml)
    if wish.stock_g:
        return for_stock(batch, wish.stock_g)
    return for_factor(1.0)


def poured_grams(servings: Iterable[Serving]) -> dict[tuple[str, str, str], float]:
    """Grams of each component poured into each drink and cup, from its first serving."""
    found: dict[tuple[str, str, str], float] = {}
    seen: set[tuple[str, str]] = set()
    for serving in servings:
        place = (serving.drink.id, serving.cup.id)
        if place in seen:
            continue
        seen.add(place)
        for used in serving.used:
            key = (*place, used.component.id)
            found[key] = found.get(key, 0.0) + used.mass_g
    return found


def _portion(batch: Batch, key: str, known: Sequence[Portion]) -> Portion:
    component, _, cup = key.rpartition(":")
    fitting = [p for p in known if p.cup.id == cup and component in ("", p.component.id)]
    if not fitting:
        offered = listed(dict.fromkeys(f"{p.component.id}:{p.cup.id}" for p in known))
        raise ValueError(f"'{batch.id}' has no portion '{key}'; it has {offered or 'none'}")
    return fitting[0]


def _words(menu: Menu, language: str, layouts: Layouts | None) -> Any:
    return (layouts or Layouts(None)).words(language or menu.shop.languages[0])


def _named(what: str, id_: str, known: Mapping[str, Any]) -> Any:
    if id_ in known:
        return known[id_]
    close = nearest(id_, known, 3)
    all_of_them = f"; there {'is only' if len(known) == 1 else 'are'} {listed(known)}"
    hint = f"; did you mean {listed(close)}?" if close else all_of_them if known else ""
    raise ValueError(f"there is no {what} '{id_}'{hint}")


def _json(value: object) -> str:
    return json.dumps(value, indent=2, ensure_ascii=False) + "\n"


def _print(views: Sequence[AnyView], menu: Menu, layouts: Layouts | None) -> Made:
    from buildsheets.print.render import RenderOptions, render_pdf

    language = views[0].language
    printed = render_pdf(
        views,
        RenderOptions(
            layouts=layouts.own if layouts else None,
            pouch_border_mm=menu.shop.pouch_border_mm,
            author=menu.shop.name.in_language(language),
            language=language,
        ),
    )
    return Made(pdf=printed.pdf, findings=printed.findings)
