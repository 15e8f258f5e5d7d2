"""The prep station's commands: a checked menu and a wish go in; text, CSV, JSON or PDF comes out.

Nothing is printed or written here. A wish that cannot be met (an unknown name, a batch without a
yield) raises ``ValueError`` with words for the reader.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from itertools import chain, zip_longest
from typing import Any, Literal, TypeVar
from zoneinfo import ZoneInfo

from buildsheets.cli import prep_results as results
from buildsheets.cli.prep_text import batch_text, labels_text, matrix_text, sheet_text
from buildsheets.cup.allergens import allergen_report, of_everything_sold
from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Finding
from buildsheets.findings.spelling import listed, nearest
from buildsheets.menu.model import Batch, Ingredient, Menu, Packaging
from buildsheets.prep import as_csv
from buildsheets.prep.batch_card import batch_figures, poured_grams
from buildsheets.prep.batches import (
    Item,
    Portion,
    Poured,
    figure_batch,
    heap_g_ml,
    portions,
    scale_step_g,
)
from buildsheets.prep.buying import less_stock, orders, together
from buildsheets.prep.cost import Prices
from buildsheets.prep.dates import dates_of, weekday_of
from buildsheets.prep.dayplan import DayPlan, plan_day
from buildsheets.prep.helps import what_helps
from buildsheets.prep.keeping import discard_order, local_time
from buildsheets.prep.log import InUse, kept, newest
from buildsheets.prep.nutrition import facts_of, strongest
from buildsheets.prep.scaling import (
    Scaling,
    for_containers,
    for_factor,
    for_packs,
    for_portions,
    for_stock,
)
from buildsheets.prep.stock import OnHand, Stock, batches_g, moment_of, up_to
from buildsheets.print.layouts import Layouts
from buildsheets.rules.day_findings import day_findings, outside_season
from buildsheets.views.allergens import allergen_matrix
from buildsheets.views.batch import batch_card
from buildsheets.views.labels import calendar, label_sheets, labels_of
from buildsheets.views.orders import order_sheet
from buildsheets.views.sheets import cost_sheet, facts_sheet, prep_sheet
from buildsheets.views.types import PrepView
from buildsheets.views.words import Words

V = TypeVar("V", bound=PrepView)
E = TypeVar("E")


@dataclass(frozen=True, slots=True)
class Answer:
    """What a command gives: ``text`` (text or CSV), ``pdf`` or ``data`` for a program; findings of
    the print, and findings ``about`` what was asked, which is given all the same.

    ``assumed`` are parts whose age nothing says: taken to be opened or made at that moment.
    ``logged`` are what labels say as the log has it.
    """

    text: str = ""
    pdf: bytes = b""
    data: object = None
    findings: tuple[Finding, ...] = ()
    assumed: tuple[str, ...] = ()
    logged: tuple[InUse, ...] = ()
    about: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class How:
    """How the answer is wanted; without a language in the shop's first."""

    form: Literal["text", "csv", "json", "pdf"] = "text"
    language: str = ""
    layouts: Layouts = field(default_factory=lambda: Layouts(None))

    def words(self, menu: Menu) -> Words:
        """The words of the language, in the shop's measures."""
        words = self.layouts.words(self.language or menu.shop.languages[0])
        return words.measured_in(menu.shop)

    def show(self, menu: Menu, views: Sequence[V], text: Callable[[Sequence[V]], str]) -> Answer:
        """The views as text or PDF."""
        return Answer(text(views)) if self.form == "text" else self.pdf(menu, views)

    def pdf(self, menu: Menu, views: Sequence[V]) -> Answer:
        """The views as PDF."""
        from buildsheets.print.render import RenderOptions, render_pdf

        language = views[0].language
        options = RenderOptions(
            layouts=self.layouts.own,
            pouch_border_mm=menu.shop.pouch_border_mm,
            author=menu.shop.name.in_language(language),
            language=language,
        )
        printed = render_pdf(views, options)
        return Answer(pdf=printed.pdf, findings=printed.findings)


@dataclass(frozen=True, slots=True)
class Wish:
    """How much of a batch is wanted: exactly one of these is given, else a full batch.

    ``portions`` counts by cup id or "component:cup"; ``packs`` are of the batch's lead;
    ``stock_g`` are the grams in stock by ingredient id; ``containers`` hold ``container_ml`` each.
    """

    factor: float | None = None
    scale: str | None = None
    portions: Mapping[str, int] = field(default_factory=dict)
    packs: float | None = None
    containers: int | None = None
    container_ml: float | None = None
    stock_g: Mapping[str, float] = field(default_factory=dict)


AS_TEXT = How()


def plan(
    menu: Menu,
    servings: Sequence[Serving],
    day: str,
    how: How = AS_TEXT,
    *,
    on_hand: Stock | None = None,
    on: date | None = None,
) -> Answer:
    """A day's plan: what to make and when, what to have ready, what to buy, what is left. What is
    on hand counts where it keeps to the closing of the date; of drinks with dates only those are
    planned that are sold ``on`` it."""
    words, stock = how.words(menu), on_hand or {}
    ((figured, closing, there),) = _planned(menu, servings, [day], stock, [on] if on else [])
    needs = less_stock(figured.purchases, stock, closing)
    helps = what_helps(menu, figured.day, _by_cup(servings), figured, there)
    if how.form == "json":
        not_counted = results.left_out(up_to(stock, closing))
        told = Answer(data=results.Planned(figured, needs, helps, not_counted))
    else:
        usable = up_to(stock, closing)
        told = how.show(menu, [prep_sheet(menu, figured, words, needs, usable)], _sheet)
    return replace(told, about=day_findings(menu, figured, helps))


def buy(
    menu: Menu,
    servings: Sequence[Serving],
    days: Sequence[str],
    how: How = AS_TEXT,
    *,
    on_hand: Stock | None = None,
    dates: Sequence[date] = (),
) -> Answer:
    """What to order for some days by supplier; without ``dates`` they follow each other from today,
    and what is sold on some dates only is in them."""
    words, stock = how.words(menu), on_hand or {}
    planned = _planned(menu, servings, days, stock, dates)
    about = tuple(chain.from_iterable(outside_season(menu, figured) for figured, *_ in planned))
    all_days = together(figured.purchases for figured, *_ in planned)
    needs = less_stock(all_days, stock, planned[-1][1])
    ordered, enough = orders(needs), [one for one in needs if one.enough]
    usable = up_to(stock, planned[-1][1]) | _of_batches(up_to(stock, planned[0][1]))
    if how.form == "json":
        not_counted = results.left_out(usable)
        data = results.Ordered(days, dates, ordered, enough, not_counted)
        return Answer(data=data, about=about)
    if how.form == "csv":
        return Answer(as_csv.orders_csv(ordered, enough, menu.shop.currency), about=about)
    sold = [figured.day for figured, *_ in planned]
    left_out = [one for figured, *_ in planned for one in figured.not_sold]
    view = order_sheet(menu, sold, ordered, enough, usable, words, left_out, dates)
    return replace(how.show(menu, [view], _sheet), about=about)


def _of_batches(stock: Stock) -> dict[str, OnHand]:
    """Batches are used as long as they keep, from the first day on."""
    return {id_: have for id_, have in stock.items() if isinstance(have.item, Batch)}


def _planned(
    menu: Menu,
    servings: Sequence[Serving],
    days: Sequence[str],
    stock: Stock,
    dates: Sequence[date],
) -> list[tuple[DayPlan, datetime, dict[str, float]]]:
    """Days one after the other, each with its closing and with what batches the days before leave
    of the stock, in grams."""
    by_cup = _by_cup(servings)
    today = datetime.now(ZoneInfo(menu.shop.time_zone)).date()
    found: list[tuple[DayPlan, datetime, dict[str, float]]] = []
    used_g: dict[str, float] = {}
    for number, name in enumerate(days):
        day = _named("day", name, menu.days)
        dated = dates[number] if dates else None
        closing = moment_of(menu, dated or today + timedelta(days=number), day.closes_at_minutes)
        there = {
            id_: max(0.0, grams - used_g.get(id_, 0.0))
            for id_, grams in batches_g(stock, closing).items()
        }
        figured = plan_day(menu, day, by_cup, there, dated)
        for one in figured.batches:
            grams, _ = one.amount(one.from_stock)
            used_g[one.batch.id] = used_g.get(one.batch.id, 0.0) + (grams or 0.0)
        found.append((figured, closing, there))
    return found


def dates(
    menu: Menu, days: Sequence[str], now: datetime, on: date | None
) -> tuple[tuple[date, ...], str]:
    """The dates of days, the first ``on`` one where it is given; and that this is another weekday
    than the day's name says, where it is."""
    named = [_named("day", name, menu.days) for name in days]
    found, told = dates_of(menu, named, now, on), ""
    weekday = weekday_of(menu, named[0])
    if on is not None and weekday not in (None, on.weekday()):
        told = f"note: {on:%Y-%m-%d} is a {on:%A}, and planned as {named[0].id}"
    return found, told


def _by_cup(servings: Sequence[Serving]) -> dict[tuple[str, str], Serving]:
    return {(s.drink.id, s.cup.id): s for s in reversed(servings)}


def labels(
    menu: Menu,
    copies: Mapping[str, int],
    prepared_at: datetime,
    how: How = AS_TEXT,
    *,
    using: Sequence[InUse] = (),
    new: bool = False,
    use_by: date | None = None,
    skip: int = 0,
    by_day: bool = False,
) -> Answer:
    """Date labels of batches made, and packs opened (id to number of labels), or their calendar;
    without any, the calendar of all that is in use.

    ``using`` is what the log has in use. What it knows is labelled as it was logged, the newest
    of several; a ``new`` one, and one it does not know, as made or opened at the moment, of parts
    as old as the log has them. ``use_by`` is the maker's date on the packs. A time without a zone
    is the shop's.
    """
    words, at = how.words(menu), local_time(menu.shop, prepared_at)
    items = [named_item(menu, id_) for id_ in copies]
    known = {} if new else {one.id: as_logged(using, one.id, at) for one in items}
    logged = tuple(one for one in known.values() if one is not None)
    of_log = {one.id: one.keeping for one in logged if one.keeping is not None}
    every = [
        (of_log[one.id], ()) if one.id in of_log else kept(menu.shop, one, at, using, use_by)
        for one in items
    ]
    keepings = [one for one, _ in every]
    if not copies:
        keepings = [one.keeping for one in using if one.keeping and not one.frozen_on]
    assumed = tuple(dict.fromkeys(part.id for _, parts in every for part in parts))
    if how.form == "json":
        return Answer(data=results.Labelled(keepings, assumed), logged=logged, assumed=assumed)
    if by_day:
        shown = how.show(menu, [calendar(menu, discard_order(keepings), words)], _sheet)
        return replace(shown, logged=logged)
    told = list(zip(keepings, map(allergen_report, items), copies.values(), strict=True))
    if how.form == "text":
        answer = Answer(labels_text(labels_of(menu, told, words)))
    else:
        sheet = menu.shop.label_sheet
        if sheet is None:
            raise ValueError(NO_LABEL_SHEET)
        answer = how.pdf(menu, label_sheets(menu, told, words, sheet, skip=skip))
    return replace(answer, assumed=assumed, logged=logged)


def as_logged(using: Sequence[InUse], id_: str, at: datetime) -> InUse | None:
    """What the log has of a thing, to label; raises ``ValueError`` where it is out of date."""
    one = newest(using, id_)
    if one is None or (one.keeping is not None and one.until > at):
        return one
    begun, when = one.entry.event, f"{one.entry.at:%a %d %b %H:%M}"
    raise ValueError(
        f"{id_}: the log has that {begun} {when}, and it is out of date: throw it away, and write "
        f"down: log gone {id_}. A new one gets its label with --log, which writes it down too"
    )


NO_LABEL_SHEET = """the shop has no label_sheet, so nothing says where its labels lie on the paper.
Measure a sheet of labels with a ruler and add it to the menu, in mm:
  shop:
    label_sheet: {width: 210 mm, height: 297 mm, label_width: 63.5 mm, label_height: 38.1 mm,
      across: 3, down: 7, left: 7.2 mm, top: 15.1 mm, pitch_x: 66 mm, pitch_y: 38.1 mm}
or leave out --format pdf: as text, labels need no sheet"""
"""The numbers are an example: a sheet of 21, three across."""


def costs(
    menu: Menu,
    servings: Iterable[Serving],
    how: How = AS_TEXT,
    *,
    what_if: tuple[str, Decimal] | None = None,
) -> Answer:
    """Cost, price and margin of servings; ``what_if`` gives one pack, of an ingredient or
    of packaging, another price.

    Hand over default servings for the owner's sheet, or every choice for a spreadsheet; a drink as
    written is followed by those with a guest's swaps.
    """
    words, written = how.words(menu), list(servings)
    servings = _with_swaps(written)
    now = Prices().of_all(menu, servings, written)
    after = Prices(dict([what_if])).of_all(menu, servings, written) if what_if else None
    changed = "" if what_if is None else _changed(menu, *what_if, words)
    if how.form == "csv":
        rows = [(one, facts_of(one.serving)) for one in (after or now).drinks]
        return Answer(as_csv.cost_csv(rows, menu.shop.currency))
    if how.form == "json":
        asked = results.WhatIf(*what_if) if what_if else None
        each = zip_longest(now.drinks, after.drinks if after else ())
        return Answer(data=results.Costs(asked, [results.Costed(*pair) for pair in each]))
    view = cost_sheet(menu, now, words, then=after, what_if=changed)
    return how.show(menu, [view], _sheet)


def _with_swaps(servings: Sequence[Serving]) -> list[Serving]:
    """The servings, each made as nobody asked to change it followed by those with its swaps, unless
    they are among them."""
    known = {(one.drink.id, one.cup.id, one.choice) for one in servings}
    found: list[Serving] = []
    for one in servings:
        found.append(one)
        found += [
            other
            for other in (one.choices.swapped if one.choice == one.choices.default else ())
            if (other.drink.id, other.cup.id, other.choice) not in known
        ]
    return found


def _changed(menu: Menu, ingredient: str, price: Decimal, words: Words) -> str:
    known: dict[str, Ingredient | Packaging] = {**menu.ingredients, **menu.packaging}
    item = _named("ingredient or packaging", ingredient, known)
    if item.pack is None:
        raise ValueError(f"'{ingredient}' has no pack that could have a price")
    before, currency = item.pack.price, menu.shop.currency
    return words(
        "prep_what_if",
        name=item.name.in_language(words.language),
        price=words.money(price, currency),
        before=words("prep_no_price") if before is None else words.money(before, currency),
    )


def facts(menu: Menu, servings: Sequence[Serving], how: How = AS_TEXT) -> Answer:
    """Nutrition, sugar, Brix and caffeine of servings by the shop's label rules."""
    servings = _with_swaps(servings)
    known = [(serving, facts_of(serving), strongest(serving)) for serving in servings]
    if how.form == "json":
        rules = menu.shop.label_rules
        each = [results.Nutrients(serving, one, rules) for serving, one, _ in known]
        return Answer(data=results.Nutrition(rules, each))
    return how.show(menu, [facts_sheet(menu, known, how.words(menu))], _sheet)


def allergens(menu: Menu, how: How = AS_TEXT) -> Answer:
    """Every drink, its swaps and add-ons against every allergen; as JSON with the path to each."""
    words, sold = how.words(menu), of_everything_sold(menu)
    if how.form == "json":
        return Answer(data=results.Allergens([results.AllergensOf(*one) for one in sold]))
    return how.show(menu, [allergen_matrix(menu, sold, words)], lambda views: matrix_text(views[0]))


def scale_batch(
    menu: Menu, batch: str, wish: Wish, how: How = AS_TEXT, *, servings: Sequence[Serving] = ()
) -> Answer:
    """A batch at the scale a wish asks for: its card, or all its figures as JSON."""
    words, poured = how.words(menu), poured_grams(servings)
    entry = _named("batch", batch, menu.batches)
    scaling = wished(menu, entry, wish, poured)
    figured = batch_figures(menu, entry, scaling.factor, poured, scaling.rounding)
    if how.form == "json":
        return Answer(data=results.Scaled(figured, scaling, wish.container_ml))
    view = batch_card(menu, figured, wish.scale or "", words)
    return how.show(menu, [view], lambda views: batch_text(views[0], words))


def wished(menu: Menu, batch: Batch, wish: Wish, poured: Poured) -> Scaling:
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
        return for_packs(batch, wish.packs)
    if wish.containers is not None:
        heap = heap_g_ml(menu.components.values(), batch)
        return for_containers(batch, wish.containers, wish.container_ml or 0.0, heap)
    if wish.stock_g:
        return for_stock(batch, wish.stock_g, scale_step_g(menu))
    return for_factor(1.0)


def _portion(batch: Batch, key: str, known: Sequence[Portion]) -> Portion:
    """The largest the batch goes into such a cup with, since drinks differ."""
    component, _, cup = key.rpartition(":")
    meant = [p for p in known if p.cup.id == cup and component in ("", p.component.id)]
    if meant:
        return max(meant, key=lambda portion: portion.mass_g)
    offered = listed(dict.fromkeys(f"{p.component.id}:{p.cup.id}" for p in known))
    raise ValueError(f"'{batch.id}' has no portion '{key}'; it has {offered or 'none'}")


def named_item(menu: Menu, id_: str) -> Item:
    """What can be made or opened by its id. Raises ``ValueError`` with likely ones."""
    known: dict[str, Item] = {**menu.batches, **menu.ingredients}
    begins, today = menu.edition.valid_from, datetime.now(ZoneInfo(menu.shop.time_zone)).date()
    try:
        return _named("batch or ingredient", id_, known)
    except ValueError as unknown:
        if today >= begins:
            raise
        until = f"this menu is sold from {begins}; for what is sold until then, take a copy of the"
        raise ValueError(f"{unknown}; {until} menu before it: --menu COPY") from None


def _named(what: str, id_: str, known: Mapping[str, E]) -> E:
    if id_ in known:
        return known[id_]
    close = nearest(id_, known, 3)
    all_of_them = f"; there {'is only' if len(known) == 1 else 'are'} {listed(known)}"
    none_yet = "; the menu has none yet, and `buildsheets keys` says how to write one"
    hint = f"; did you mean {listed(close)}?" if close else all_of_them if known else none_yet
    raise ValueError(f"there is no {what} '{id_}'{hint}")


def _sheet(views: Sequence[Any]) -> str:
    return "\n".join(map(sheet_text, views))
