"""The prep station's commands: plan, labels, costs, facts, allergens, batch; an exit code out."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from datetime import datetime
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildsheets.cli.commands import (
    CLEAN,
    COULD_NOT,
    FOUND,
    checked_menu,
    command,
    menu_argument,
    report,
    stopping,
    write_files,
    written_as,
)

if TYPE_CHECKING:
    from buildsheets.cli.prep_commands import Answer, How, Wish
    from buildsheets.cup.serving import Serving
    from buildsheets.menu.model import Menu

    Servings = tuple[Serving, ...]


_MOMENT = written_as(datetime.fromisoformat, "a day and time", "them like 2027-03-01T09:30")


def add_commands(verbs: Any) -> None:
    """Enter the commands."""
    plan = _prep(verbs, "plan", _plan, "a day's plan: what to make and when, what to buy")
    plan.add_argument("day", metavar="DAY", help="a day of the menu: saturday")
    _menu_option(plan)

    labels = _prep(verbs, "labels", _labels, "date labels for batches, and what to discard when")
    labels.add_argument("batches", nargs="+", metavar="BATCH[=COPIES]", help="cooked-pearls=4")
    _menu_option(labels)
    labels.add_argument("--at", type=_MOMENT, default=None, help="prepared at (default: now)")
    labels.add_argument("--skip", type=int, default=0, help="labels already used on the sheet")
    labels.add_argument("--calendar", action="store_true", help="the discard calendar instead")

    costs = _prep(verbs, "costs", _costs, "cost, price and margin of every drink", "csv")
    menu_argument(costs)
    costs.add_argument("--what-if", default="", metavar="INGREDIENT=PRICE", help="whole-milk=1.55")
    costs.add_argument("--options", action="store_true", help="every option, not the default alone")

    menu_argument(_prep(verbs, "facts", _facts, "nutrition, sugar and caffeine of every drink"))
    menu_argument(_prep(verbs, "allergens", _allergens, "every drink against every allergen"))

    batch = _prep(verbs, "batch", _batch, "a batch at the scale you need")
    batch.add_argument("batch", metavar="BATCH", help="the batch's id")
    _menu_option(batch)
    scale = batch.add_mutually_exclusive_group()
    scale.add_argument("--scale", help="by name: half")
    scale.add_argument("--factor", type=float, help="by number: 1.5")
    scale.add_argument(
        "--portions", action="append", metavar="CUP=N", help="small=30; may be repeated"
    )
    scale.add_argument("--packs", type=float, help="of the lead ingredient")
    scale.add_argument(
        "--containers", metavar="NxML", help="as many as fill these containers: 3x1000"
    )
    scale.add_argument(
        "--stock", action="append", metavar="ID=GRAMS", help="what there is; may be repeated"
    )


def _prep(verbs: Any, name: str, run: Any, words: str, *more: str) -> argparse.ArgumentParser:
    parser = command(verbs, name, run, words)
    parser.add_argument("--format", choices=("text", *more, "json", "pdf"), default="text")
    parser.add_argument("--language", default="", help="default: the shop's first")
    parser.add_argument("--out", type=Path, default=Path("out"), help="folder for PDFs")
    parser.set_defaults(strict=False)
    return parser


def _menu_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--menu", type=Path, default=Path("menu"), help="default: menu")


def _answer(
    options: argparse.Namespace, name: str, ask: Callable[[Menu, Servings, How], Answer]
) -> int:
    """Check the menu, ask for what is wanted, show or write it."""
    from buildsheets.cli.prep_commands import How
    from buildsheets.output import Place

    checked = checked_menu(options)
    short = argparse.Namespace(format="short", strict=False)
    if checked.stopped or checked.menu is None:
        report(checked.findings, checked.sources, short)
        return stopping(checked)
    how = How(options.format, options.language, Place.of(options.menu).layouts)
    try:
        answer = ask(checked.menu, checked.servings, how)
    except ValueError as wrong:
        print(wrong, file=sys.stderr)
        return COULD_NOT
    if report(answer.findings, checked.sources, short):
        return FOUND
    if options.format == "pdf":
        write_files(options.out, {f"{checked.menu.edition.code}/{name}.pdf": answer.pdf})
    else:
        print(answer.text.rstrip("\n"))
    return CLEAN


def _plan(options: argparse.Namespace) -> int:
    from buildsheets.cli import prep_commands as prep

    def ask(menu: Menu, servings: Servings, how: How) -> Answer:
        return prep.plan(menu, servings, options.day, how)

    return _answer(options, f"prep/plan-{options.day}", ask)


def _labels(options: argparse.Namespace) -> int:
    from buildsheets.cli import prep_commands as prep

    def ask(menu: Menu, servings: Servings, how: How) -> Answer:
        copies = {key: _whole(count or "1") for key, count in map(_pair, options.batches)}
        at = options.at or _now(menu)
        return prep.labels(menu, copies, at, how, skip=options.skip, by_day=options.calendar)

    return _answer(options, "prep/discard-calendar" if options.calendar else "prep/labels", ask)


def _now(menu: Menu) -> datetime:
    from zoneinfo import ZoneInfo

    return datetime.now(ZoneInfo(menu.shop.time_zone)).replace(second=0, microsecond=0)


def _pair(text: str) -> tuple[str, str]:
    key, _, value = text.partition("=")
    return key, value


def _costs(options: argparse.Namespace) -> int:
    from buildsheets.cli import prep_commands as prep

    def ask(menu: Menu, servings: Servings, how: How) -> Answer:
        what_if = None
        if options.what_if:
            key, price = _pair(options.what_if)
            try:
                what_if = (key, Decimal(price))
            except InvalidOperation:
                raise ValueError(f"'{options.what_if}': write INGREDIENT=PRICE") from None
        if options.options:
            servings = tuple(_every_choice(servings))
        return prep.costs(menu, servings, how, what_if=what_if)

    return _answer(options, "owner/costs", ask)


def _every_choice(servings: Servings) -> Iterator[Serving]:
    from buildsheets.cup.scan import choices

    for serving in servings:
        for choice in choices(serving.drink, serving.cup):
            yield serving.choices[choice]


def _facts(options: argparse.Namespace) -> int:
    from buildsheets.cli import prep_commands as prep

    return _answer(options, "owner/nutrition", prep.facts)


def _allergens(options: argparse.Namespace) -> int:
    from buildsheets.cli import prep_commands as prep

    return _answer(options, "wall/allergens", lambda menu, _, how: prep.allergens(menu, how))


def _batch(options: argparse.Namespace) -> int:
    from buildsheets.cli import prep_commands as prep

    def ask(menu: Menu, servings: Servings, how: How) -> Answer:
        return prep.scale_batch(menu, options.batch, _wish(options), how, servings=servings)

    return _answer(options, f"prep/{options.batch}", ask)


def _wish(options: argparse.Namespace) -> Wish:
    """The scale asked for. Raises ``ValueError`` for words that are not one."""
    from buildsheets.cli.measure_words import number
    from buildsheets.cli.prep_commands import Wish

    if options.portions:
        return Wish(portions={key: _whole(count) for key, count in map(_pair, options.portions)})
    if options.stock:
        return Wish(stock_g={key: number(grams) for key, grams in map(_pair, options.stock)})
    if options.containers:
        count, found, each_ml = options.containers.partition("x")
        if not found:
            raise ValueError(f"'{options.containers}': write 3x1000, number and ml of each")
        return Wish(containers=_whole(count), container_ml=number(each_ml))
    return Wish(factor=options.factor, scale=options.scale, packs=options.packs)


def _whole(text: str) -> int:
    if not text.isdecimal() or int(text) == 0:
        raise ValueError(f"'{text}' is not a whole number above 0")
    return int(text)
