"""A small kitchen under one rule set or another, and what a person reads of it: labels, batch
cards, build cards, sheets, the log and findings, as text."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from menu_samples import SMALL, check_texts, edited, said

from buildsheets.cli import kitchen_log
from buildsheets.cli import prep_commands as pc
from buildsheets.menu.model import Menu
from buildsheets.pipeline import Checked
from buildsheets.prep.log import Entry, in_use, read_log
from buildsheets.print.layouts import Layouts
from buildsheets.views.build import build_view

MADRID = ZoneInfo("Europe/Madrid")
US, ENGLAND, CUSTOM = "us-food-code", "england", "custom"

SYRUP = "{name: Syrup, parts: [{use: cane, amount: 1 kg}], keeps_for: 7 days, keeps_at: 5 °C}"


def kitchen(*edits: tuple[str, str], rules: str = US, shop: str = "", batches: str = "") -> Checked:
    """The small menu under a rule set, with more keys of the shop and more batches."""
    more = [(f"  shelf_rules: {US}\n", f"  shelf_rules: {rules}\n{shop}")]
    more += [("batches:\n", f"batches:\n{batches}")] if batches else []
    return check_texts(edited({"menu.yaml": SMALL}, *more, *edits))


def sound(*edits: tuple[str, str], rules: str = US, shop: str = "", batches: str = "") -> Menu:
    """Its menu, which must have no error."""
    checked = kitchen(*edits, rules=rules, shop=shop, batches=batches)
    assert checked.menu is not None
    assert not checked.stopped, said(checked.findings)
    return checked.menu


def one_batch(text: str, rules: str = US, shop: str = "") -> Menu:
    """A sound kitchen that makes one more batch, called ``it``."""
    return sound(rules=rules, shop=shop, batches=f"  it: {text}\n")


def findings(checked: Checked, code: str) -> list[str]:
    """The messages of one code, with their hints and fixes, as `check` prints them."""
    return [
        " ".join([one.message, one.hint, *(fix.text for fix in one.fixes)])
        for one in checked.findings
        if one.code == code
    ]


def batch_card(menu: Menu, batch: str = "it", language: str = "en") -> str:
    """A batch card as text, its lines of keeping among it."""
    how = pc.How(language=language)
    return pc.scale_batch(menu, batch, pc.Wish(), how).text.replace("\u00a0", " ")


def keeping_line(menu: Menu, batch: str = "it", language: str = "en") -> str:
    """What the batch card says of keeping it."""
    (line,) = [one for one in batch_card(menu, batch, language).split("\n") if _keep(one, language)]
    return line.partition(": ")[2]


def _keep(line: str, language: str) -> bool:
    return line.startswith(Layouts(None).words(language)("prep_keeping") + ": ")


def at(day: int, hour: int = 9, minute: int = 0, month: int = 4, year: int = 2025) -> datetime:
    """A moment in the shop; April 2025 unless told otherwise."""
    return datetime(year, month, day, hour, minute, tzinfo=MADRID)


def label(menu: Menu, item: str, when: datetime, log: str = "") -> str:
    """The date label of something made or opened then, its lines joined with " · "."""
    using = in_use(menu, (one for one in read_log(log) if one.at <= when))
    text = pc.labels(menu, {item: 1}, when, using=using).text
    return " · ".join(text.strip().split("\n"))


def calendar(menu: Menu, log: str) -> str:
    """The discard calendar of all that is in use."""
    return pc.labels(menu, {}, at(1), using=in_use(menu, read_log(log)), by_day=True).text


def told_by_log(menu: Menu, log: str, now: datetime) -> str:
    """What `log` says is in use."""
    return kitchen_log.listed(menu.shop, in_use(menu, read_log(log)), now)


def line(event: str, item: str, when: datetime) -> str:
    """A line of the log."""
    return Entry(when, event, item).line()  # type: ignore[arg-type]


def build_card(checked: Checked, drink: str, language: str = "en") -> str:
    """Every text of the first build card of a drink."""
    assert checked.menu is not None
    serving = next(one for one in checked.servings if one.drink.id == drink)
    view = build_view(checked.menu, serving, Layouts(None).words(language))
    return "\n".join(_texts(view)).replace("\u00a0", " ")


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif is_dataclass(value):
        for one in fields(value):
            yield from _texts(getattr(value, one.name))
    elif isinstance(value, tuple | list):
        for one in value:
            yield from _texts(one)


def facts_sheet(checked: Checked, language: str = "en") -> str:
    """The nutrition sheet as text."""
    assert checked.menu is not None
    return pc.facts(checked.menu, checked.servings, pc.How(language=language)).text


def allergen_sheet(menu: Menu) -> str:
    """Every drink against every allergen as text."""
    return pc.allergens(menu).text
