"""The prep station's commands: plan, labels, costs, facts, allergens, batch; an exit code out."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal, InvalidOperation

from buildsheets.cli import kitchen_log, prep_commands
from buildsheets.cli.commands import (
    CLEAN,
    FOUND,
    checked_menu,
    refusing,
    report,
    show,
    stopping,
    write_files,
)
from buildsheets.cli.measure_words import number
from buildsheets.cli.prep_commands import Answer, How, Wish
from buildsheets.cup.errors import within
from buildsheets.cup.scan import choices
from buildsheets.cup.serving import Serving
from buildsheets.findings.spelling import shortened
from buildsheets.menu.model import Menu
from buildsheets.menu.quantity import Measures, parse_quantity
from buildsheets.place import Place
from buildsheets.prep.log import in_use, newest
from buildsheets.prep.stock import Stock, stock

Servings = Sequence[Serving]
DEAREST_PACK = 1e6
"""Of a pack in any currency; more is a slip (common practice, no source)."""
MOST_LABELS = 1000
"""Of one thing in one run: fifty sheets, more than any day takes (common practice, no source)."""


def plan(options: argparse.Namespace) -> int:
    """A day's plan."""

    def ask(menu: Menu, servings: Servings, how: How) -> Answer:
        counts, (on,) = _counted(options, menu), _dates(options, menu, [options.day])
        return prep_commands.plan(menu, servings, options.day, how, on_hand=counts, on=on)

    return _answer(options, f"prep/plan-{options.day}", ask)


def buy(options: argparse.Namespace) -> int:
    """What to order for some days."""

    def ask(menu: Menu, servings: Servings, how: How) -> Answer:
        counts, dates = _counted(options, menu), _dates(options, menu, options.days)
        return prep_commands.buy(menu, servings, options.days, how, on_hand=counts, dates=dates)

    return _answer(options, f"owner/order-{'-'.join(options.days)}", ask)


def _dates(options: argparse.Namespace, menu: Menu, days: Sequence[str]) -> tuple[date, ...]:
    """The dates of days; a note where the one that was given has another weekday."""
    found, note = prep_commands.dates(menu, days, kitchen_log.clock(menu), options.on)
    if note:
        print(note, file=sys.stderr)
    return found


def _counted(options: argparse.Namespace, menu: Menu) -> Stock:
    return stock(menu, kitchen_log.entries(Place.of(options.menu).folder / kitchen_log.FILE))


def labels(options: argparse.Namespace) -> int:
    """Date labels of batches and opened packs, or the discard calendar."""

    def ask(menu: Menu, servings: Servings, how: How) -> Answer:
        copies = {
            key: _whole(count or "1", MOST_LABELS) for key, count in map(_pair, options.items)
        }
        if not copies and not options.calendar:
            raise ValueError("say what was made or opened: the id of a batch or an ingredient")
        if options.calendar and (counted := [text for text in options.items if "=" in text]):
            raise ValueError(
                f"a calendar has one line of each: write {counted[0].partition('=')[0]}"
            )
        if options.use_by and not copies.keys() & menu.ingredients.keys():
            raise ValueError("--use-by is the date on a pack that is opened")
        path, now = Place.of(options.menu).folder / kitchen_log.FILE, kitchen_log.clock(menu)
        at = kitchen_log.moment(menu, options.at, now)
        using = in_use(menu, [one for one in kitchen_log.entries(path) if one.at <= at])
        new = bool(options.at is not None or options.log or options.use_by)
        answer = prep_commands.labels(
            menu, copies, at, how, using=using, new=new, use_by=options.use_by,
            skip=options.skip, by_day=options.calendar,
        )  # fmt: skip
        if options.calendar and not copies and any(one.keeping is None for one in using):
            print(kitchen_log.without_dates(menu.shop, using, now), file=sys.stderr)
        for one in answer.logged:
            print(kitchen_log.as_logged(using, one), file=sys.stderr)
        for id_ in copies if new else ():
            if (other := newest(using, id_)) is not None and id_ in menu.ingredients:
                print(kitchen_log.another_than(other), file=sys.stderr)
        if answer.assumed:
            names = ", ".join(answer.assumed)
            print(f"{kitchen_log.ASSUMED}: {names}", file=sys.stderr)
        if options.log:
            begun = [kitchen_log.begun(menu, id_, at, options.use_by) for id_ in copies]
            kitchen_log.write_down(menu, path, begun, now)
        return answer

    return _answer(options, "prep/discard-calendar" if options.calendar else "prep/labels", ask)


def costs(options: argparse.Namespace) -> int:
    """Cost, price and margin of every drink."""

    def ask(menu: Menu, servings: Servings, how: How) -> Answer:
        what_if = None
        if options.what_if:
            key, price = _pair(options.what_if)
            try:
                what_if = (key, Decimal(price))
            except InvalidOperation:
                raise ValueError(f"'{options.what_if}': write INGREDIENT=PRICE") from None
            within("price", float(what_if[1]), 0.0, DEAREST_PACK)
        if options.options:
            servings = [s.choices[one] for s in servings for one in choices(s.drink, s.cup)]
        return prep_commands.costs(menu, servings, how, what_if=what_if)

    return _answer(options, "owner/costs", ask)


def facts(options: argparse.Namespace) -> int:
    """Nutrition, sugar and caffeine of every drink."""
    return _answer(options, "owner/nutrition", prep_commands.facts)


def allergens(options: argparse.Namespace) -> int:
    """Every drink against every allergen."""
    return _answer(
        options, "wall/allergens", lambda menu, _, how: prep_commands.allergens(menu, how)
    )


def batch(options: argparse.Namespace) -> int:
    """A batch at the scale asked for."""

    def ask(menu: Menu, servings: Servings, how: How) -> Answer:
        wish = _wish(options, menu)
        return prep_commands.scale_batch(menu, options.batch, wish, how, servings=servings)

    return _answer(options, f"prep/{options.batch}", ask)


def _answer(
    options: argparse.Namespace, name: str, ask: Callable[[Menu, Servings, How], Answer]
) -> int:
    """Check the menu, ask for what is wanted, show or write it."""
    checked = checked_menu(options)
    if checked.stopped or checked.menu is None:
        report(checked.findings, checked.sources, options, "short")
        return stopping(checked)
    how = How(options.format, options.language, Place.of(options.menu).layouts)
    with refusing():
        answer = ask(checked.menu, checked.servings, how)
    if report(answer.findings, checked.sources, options, "short"):
        return FOUND
    if options.format == "pdf":
        path = f"{checked.menu.edition.code}/{name}.pdf"
        show(write_files(options.out, {path: answer.pdf}), options)
    elif options.outcome is not None:
        options.outcome.result = answer.data
    else:
        print(answer.text.rstrip("\n"))
    return FOUND if report(answer.about, checked.sources, options, "full") else CLEAN


def _wish(options: argparse.Namespace, menu: Menu) -> Wish:
    """The scale asked for. Raises ``ValueError`` for words that are not one."""
    if options.portions:
        return Wish(portions={key: _whole(count) for key, count in map(_pair, options.portions)})
    if options.stock:
        return Wish(stock_g={key: number(grams) for key, grams in map(_pair, options.stock)})
    if options.containers:
        count, found, each = options.containers.partition("x")
        if not found:
            words = "write 3x1000, number and ml of each, or '2x64 fl oz'"
            raise ValueError(f"'{options.containers}': {words}")
        return Wish(containers=_whole(count.strip()), container_ml=_volume_ml(each.strip(), menu))
    return Wish(factor=options.factor, scale=options.scale, packs=options.packs)


def _volume_ml(text: str, menu: Menu) -> float:
    """A volume as typed, in ml where no unit stands. Raises ``ValueError``."""
    if text[-1:].isdigit() or not text:
        return number(text)
    return parse_quantity(text, Measures(menu.shop.measures), ("volume",)).value


def _pair(text: str) -> tuple[str, str]:
    key, _, value = text.partition("=")
    return key, value


def _whole(text: str, most: int = 1_000_000) -> int:
    """A whole number as typed. Raises ``ValueError`` with words for the reader."""
    digits = text.lstrip("0") if text.isascii() and text.isdigit() else ""
    if not digits or len(digits) > len(str(most)) or int(digits) > most:
        raise ValueError(f"'{shortened(text)}' is not a whole number from 1 to {most}")
    return int(digits)
