"""The prep station's commands: plan, labels, costs, facts, allergens, batch; an exit code out."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
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
    from buildsheets.cli.prep_commands import Made, Wish
    from buildsheets.cup.serving import Serving
    from buildsheets.menu.model import Menu
    from buildsheets.output import Place


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

    costs = _prep(
        verbs,
        "costs",
        _costs,
        "cost, price and margin of every drink",
        ("text", "csv", "json", "pdf"),
    )
    menu_argument(costs)
    costs.add_argument("--what-if", default="", metavar="INGREDIENT=PRICE", help="whole-milk=1.55")
    costs.add_argument("--options", action="store_true", help="every option, not the default alone")

    facts = _prep(verbs, "facts", _facts, "nutrition, sugar and caffeine of every drink")
    menu_argument(facts)

    allergens = _prep(verbs, "allergens", _allergens, "every drink against every allergen")
    menu_argument(allergens)

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


def _prep(
    verbs: Any,
    name: str,
    run: Any,
    words: str,
    forms: Sequence[str] = ("text", "json", "pdf"),
) -> argparse.ArgumentParser:
    parser = command(verbs, name, run, words)
    parser.add_argument("--format", choices=forms, default="text")
    parser.add_argument("--language", default="", help="default: the shop's first")
    parser.add_argument("--out", type=Path, default=Path("out"), help="folder for PDFs")
    parser.set_defaults(strict=False)
    return parser


def _menu_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--menu", type=Path, default=Path("menu"), help="default: menu")


def _made(
    options: argparse.Namespace,
    name: str,
    make: Callable[[Menu, tuple[Serving, ...], Place], Made],
) -> int:
    """Check the menu, make what was asked for, show or write it."""
    from buildsheets.output import Place

    checked = checked_menu(options)
    shown = argparse.Namespace(format="short", strict=False)
    if checked.stopped or checked.menu is None:
        report(checked.findings, checked.sources, shown)
        return stopping(checked)
    try:
        made = make(checked.menu, checked.servings, Place.of(options.menu))
    except ValueError as wrong:
        print(wrong, file=sys.stderr)
        return COULD_NOT
    if report(made.findings, checked.sources, shown):
        return FOUND
    if options.format == "pdf":
        write_files(options.out, {f"{checked.menu.edition.code}/{name}.pdf": made.pdf})
    else:
        print(made.text.rstrip("\n"))
    return CLEAN


def _plan(options: argparse.Namespace) -> int:
    from buildsheets.cli import prep_commands

    return _made(
        options,
        f"prep/plan-{options.day}",
        lambda menu, servings, place: prep_commands.plan(
            menu,
            servings,
            options.day,
            form=options.format,
            language=options.language,
            layouts=place.layouts,
        ),
    )


def _labels(options: argparse.Namespace) -> int:
    from buildsheets.cli import prep_commands

    def make(menu: Menu, servings: tuple[Serving, ...], place: Place) -> Made:
        copies = {key: _whole(count or "1") for key, count in map(_pair, options.batches)}
        return prep_commands.labels(
            menu,
            copies,
            options.at or _now(menu),
            skip=options.skip,
            calendar=options.calendar,
            form=options.format,
            language=options.language,
            layouts=place.layouts,
        )

    return _made(options, "prep/discard-calendar" if options.calendar else "prep/labels", make)


def _now(menu: Menu) -> datetime:
    from zoneinfo import ZoneInfo

    return datetime.now(ZoneInfo(menu.shop.time_zone)).replace(second=0, microsecond=0)


def _pair(text: str) -> tuple[str, str]:
    key, _, value = text.partition("=")
    return key, value


def _costs(options: argparse.Namespace) -> int:
    from buildsheets.cli import prep_commands
    from buildsheets.cup.scan import choices

    def make(menu: Menu, servings: tuple[Serving, ...], place: Place) -> Made:
        what_if = None
        if options.what_if:
            key, price = _pair(options.what_if)
            try:
                what_if = (key, Decimal(price))
            except InvalidOperation:
                raise ValueError(f"'{options.what_if}': write INGREDIENT=PRICE") from None
        if options.options:
            servings = tuple(
                serving.choices[choice]
                for serving in servings
                for choice in choices(serving.drink, serving.cup)
            )
        return prep_commands.costs(
            menu,
            servings,
            what_if=what_if,
            form=options.format,
            language=options.language,
            layouts=place.layouts,
        )

    return _made(options, "owner/costs", make)


def _facts(options: argparse.Namespace) -> int:
    from buildsheets.cli import prep_commands

    return _made(
        options,
        "owner/nutrition",
        lambda menu, servings, place: prep_commands.facts(
            menu, servings, form=options.format, language=options.language, layouts=place.layouts
        ),
    )


def _allergens(options: argparse.Namespace) -> int:
    from buildsheets.cli import prep_commands

    return _made(
        options,
        "wall/allergens",
        lambda menu, servings, place: prep_commands.allergens(
            menu, form=options.format, language=options.language, layouts=place.layouts
        ),
    )


def _batch(options: argparse.Namespace) -> int:
    from buildsheets.cli import prep_commands

    return _made(
        options,
        f"prep/{options.batch}",
        lambda menu, servings, place: prep_commands.scale_batch(
            menu,
            options.batch,
            _wish(options),
            servings=servings,
            form=options.format,
            language=options.language,
            layouts=place.layouts,
        ),
    )


def _wish(options: argparse.Namespace) -> Wish:
    """The scale asked for. Raises ``ValueError`` for words that are not one."""
    from buildsheets.cli.prep_commands import Wish

    if options.portions:
        return Wish(portions={key: _whole(count) for key, count in map(_pair, options.portions)})
    if options.stock:
        return Wish(stock_g={key: _number(grams) for key, grams in map(_pair, options.stock)})
    if options.containers:
        count, found, each_ml = options.containers.partition("x")
        if not found:
            raise ValueError(f"'{options.containers}': write 3x1000, number and ml of each")
        return Wish(containers=_whole(count), container_ml=_number(each_ml))
    return Wish(factor=options.factor, scale=options.scale, packs=options.packs)


def _whole(text: str) -> int:
    if not text.isdecimal() or int(text) == 0:
        raise ValueError(f"'{text}' is not a whole number above 0")
    return int(text)


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"'{text}' is not a number") from None
