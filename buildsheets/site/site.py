"""The ledger and a day in; the files of a static site with a page for every card ever hung out.

Pages are made from what was published alone, never from drafts. Each page is whole in itself: its
style and script are within it and allowed by their digests, it asks no other server for anything,
and it can be read from a folder as well as from a site. The page of a card's revision says first
whether that card may hang; the script only moves on to the next state when its day comes.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial
from typing import Any, NamedTuple

from babel import Locale
from jinja2 import Undefined
from markupsafe import Markup

from buildsheets.ledger.card_texts import BETWEEN, CardTexts, name_of
from buildsheets.ledger.current import Standing, State, standing, what_follows
from buildsheets.ledger.edition_words import edition_words
from buildsheets.ledger.ledger import Entry, Ledger
from buildsheets.ledger.payload import page_name
from buildsheets.print.bounds import bounded
from buildsheets.print.layouts import Layouts
from buildsheets.print.templates import environment
from buildsheets.site.picture import picture
from buildsheets.site.practice import WAITS_DAYS, Practice, page_data
from buildsheets.views.types import CupDrawing
from buildsheets.views.words import Words

ICONS = {"site/icon.svg": ("image/svg+xml", "any"), "site/icon.png": ("image/png", "512x512")}


@dataclass(frozen=True, slots=True)
class Period:
    """From ``first`` on, until the next period: how the card stands, in words, and where to go.

    A card whose edition is ``over`` may hang still, but somebody has to look.
    """

    first: date
    state: State
    title: str
    lines: tuple[str, ...]
    instead: Entry | None
    over: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """A card in the list: its size (its name where it has none), and the name of its language where
    the site has several."""

    entry: Entry
    size: str
    language: str
    path: str
    periods: tuple[Period, ...]


class SoldOut(NamedTuple):
    """Something that is sold out now: its name, a text that says why, and its id where it is a
    drink or a size, which a card keeps whatever they are called."""

    name: str
    text: str
    drink: str = ""
    cup: str = ""

    def is_on(self, entry: Entry, texts: CardTexts) -> bool:
        """Whether it is sold by a card: as its drink or size, or by its name."""
        key = entry.key
        own = key.subject if key.kind == "build" else ""
        ids = (self.drink and self.drink == own) or (self.cup and self.cup == key.cup)
        return bool(ids) or any(self.is_said(text) for text in _sold_by(texts))

    def is_said(self, text: str) -> bool:
        """Whether a text is its name, alone or before an amount: "Pearls: 2 scoops"."""
        return text == self.name or bool(re.match(rf"{re.escape(self.name)}\s*:", text))


def _is_out(out: Sequence[SoldOut], text: str) -> bool:
    return any(one.is_said(text) for one in out)


def _sold_by(texts: CardTexts) -> Iterator[str]:
    """Where a card names drinks, add-ons and swaps."""
    rows = [row for row in texts.get("rows", ()) if isinstance(row, Mapping)]
    for part in (texts, *rows):
        yield from part.get("drink", "").split(BETWEEN)
        for one in (*part.get("add_ons", ()), *part.get("swaps", ())):
            yield one["name"]
    for table in texts.get("tables", ()):
        for row in filter(None, table.get("rows", ())):
            yield from (row[0], *row[-1].split(BETWEEN))


NotSold = Mapping[str, Sequence[SoldOut]]
"""By language, what is sold out now."""


def site_files(
    ledger: Ledger,
    day: date,
    shop: str,
    language: str,
    layouts: Layouts,
    not_sold: NotSold | None = None,
    drawings: Mapping[str, CupDrawing] | None = None,
    practices: Sequence[Practice] = (),
) -> dict[str, bytes]:
    """Every file of the site by its path; the same ledger, day and what is ``not_sold`` on it give
    the same bytes.

    ``drawings`` are cups by the digest of their card: the ledger keeps what a card says, and a
    picture stands on the page of a card that the menu still makes as it was published. The
    ``practices`` ask of such cards alone.
    """
    out = not_sold or {}
    templates = _Templates(layouts)
    cards = sorted(
        ledger.printed().values(),
        key=lambda e: (e.key.language != language, e.label.casefold(), e.code, -e.revision),
    )
    several = len({entry.key.language for entry in cards}) > 1
    files: dict[str, bytes] = {}
    groups: defaultdict[tuple[bool, str, str], list[Row]] = defaultdict(list)
    names: dict[tuple[bool, str, str], str] = {}
    for entry in cards:
        words, texts = edition_words(layouts, entry.key.language), ledger.texts(entry)
        found, drawing = periods(entry, ledger, day, words), (drawings or {}).get(entry.digest)
        files[_path(entry)] = templates.page(
            "card",
            words,
            shop,
            entry=entry,
            periods=found,
            texts=texts,
            not_sold=not_sold_on(entry, texts, day, out, words),
            is_out=partial(_is_out, out.get(entry.key.language, ())),
            picture=drawing and picture(drawing),
        )
        kind, name = entry.key.kind, name_of(texts) or entry.label
        subject = (kind != "build", kind, entry.key.subject)  # the drinks come first
        names.setdefault(subject, name)
        groups[subject].append(
            Row(entry, entry.label.removeprefix(f"{name}, "),
                _language(entry) if several else "", _path(entry), found)
        )  # fmt: skip
    in_force = ledger.in_force(day)
    words, code = edition_words(layouts, language), in_force.code if in_force else ""
    listed = sorted(groups, key=lambda one: (*one[:2], names[one].casefold()))
    practices = [one for one in practices if one.stations]
    files["index.html"] = templates.page("index", words, shop, edition=code, practices=practices,
        groups=[(names[one], groups[one]) for one in listed],
        not_sold=_said(day, [one.text for one in out.get(language, ())], words),
    )  # fmt: skip
    for one in practices:
        for station in one.stations:
            files[f"{one.folder}/{station.file}"] = templates.page(
                "practice",
                one.words,
                shop,
                edition=one.edition,
                station=station,
                stations=one.stations,
                waits=WAITS_DAYS,
                data=Markup(page_data(one, station)),
            )
    files |= dict(_as_an_app(layouts, words, shop))
    files["sw.js"] = templates.worker(files)
    return files


def _language(entry: Entry) -> str:
    """The language of a card by its own name."""
    name = Locale.parse(entry.key.language, sep="-").display_name or entry.key.language
    return name[0].upper() + name[1:]


def _as_an_app(layouts: Layouts, words: Words, shop: str) -> Iterator[tuple[str, bytes]]:
    """What a phone needs to keep the site on its home screen (W3C Web Application Manifest)."""
    icons = []
    for name, (type_, sizes) in ICONS.items():
        path = name.removeprefix("site/")
        yield path, layouts.data(name)
        icons.append({"src": path, "type": type_, "sizes": sizes})
    manifest = {
        "name": words("site_title", shop=shop),
        "short_name": shop,
        "lang": words.language,
        "start_url": "index.html",
        "display": "standalone",
        "icons": icons,
    }
    yield "manifest.webmanifest", json.dumps(manifest, ensure_ascii=False, indent=1).encode()


def not_sold_on(entry: Entry, texts: CardTexts, day: date, out: NotSold, words: Words) -> str:
    """What is said of a card of what is sold out and stands on it."""
    every = out.get(entry.key.language, ())
    every = every if entry.key.kind in ("build", "station", "addons") else ()
    return _said(day, [one.text for one in every if one.is_on(entry, texts)], words)


def _said(day: date, texts: Sequence[str], words: Words) -> str:
    return words("site_not_sold", day=words.date(day), names=", ".join(texts)) if texts else ""


def _path(entry: Entry) -> str:
    return f"{page_name(entry.code, entry.revision)}/index.html"


def periods(entry: Entry, ledger: Ledger, day: date, words: Words) -> tuple[Period, ...]:
    """How the card stands on ``day`` and on every later day on which that changes; a card of a
    drink of some days hangs on when these are over, and its page says so."""
    days, (sold_from, sold_until) = {day}, _sold_days(entry, ledger)
    days |= {sold_from} if sold_from else set()
    days |= {sold_until + timedelta(days=1)} if sold_until else set()
    for edition in ledger.editions:
        days |= {edition.valid_from, edition.valid_to + timedelta(days=1)}
    found: list[Period] = []
    for first in sorted(each for each in days if each >= day):
        period = _period(first, standing(entry.code, entry.revision, ledger, first), words)
        line = out_of_dates(entry, ledger, first, words)
        if period.state is State.CURRENT and line:
            period = replace(period, lines=(line, *period.lines))
        if not found or (found[-1].state, found[-1].lines) != (period.state, period.lines):
            found.append(period)
    return tuple(found)


def out_of_dates(entry: Entry, ledger: Ledger, day: date, words: Words) -> str:
    """That a card's drink is not sold yet on a day, or not any more; "" where it is."""
    first, last = _sold_days(entry, ledger)
    if first and day < first:
        return words("site_sold_from", day=words.date(first))
    return words("site_sold_until", day=words.date(last)) if last and day > last else ""


def _sold_days(entry: Entry, ledger: Ledger) -> tuple[date | None, date | None]:
    """The first and the last day a card's drink is sold, where the card says them."""
    first, last = ledger.texts(entry).get("sold_days") or ("", "")
    return (
        date.fromisoformat(first) if first else None,
        date.fromisoformat(last) if last else None,
    )


def _period(first: date, now: Standing, words: Words) -> Period:
    lines: tuple[str, ...] = ()
    if now.state is State.CURRENT and now.until is not None:
        holds = "site_over" if now.past_its_date else "site_current_until"
        lines = (words(holds, day=words.date(now.until)), what_follows(now, words))
    elif now.state is State.COMING and now.edition is not None:
        lines = (words("site_coming_until", day=words.date(now.edition.valid_from)),)
    elif now.state is State.WITHDRAWN:
        lines = (words("site_nothing_now"),)
    over = now.state is State.CURRENT and now.past_its_date
    return Period(
        first,
        now.state,
        words("site_past" if over else f"site_{now.state}"),
        tuple(filter(None, lines)),
        None if now.state is State.CURRENT else now.now,
        over,
    )


class _Templates:
    """The site's layouts, with style and scripts put in and named by digest in the policy."""

    def __init__(self, layouts: Layouts) -> None:
        # What a card says has no empty fields: a template asks for them all the same.
        lenient = environment(layouts).overlay(undefined=Undefined)
        names = ("card", "index", "practice")
        self._layouts = layouts
        self._pages = {name: lenient.get_template(f"site/{name}.html") for name in names}
        state = layouts.text("site/state.js")
        self._scripts = {name: state + layouts.text(f"site/{name}.js") for name in names}
        style = layouts.text("site/style.css")
        self._styles = dict.fromkeys(names, style)
        self._styles["practice"] += layouts.text("site/practice.css")
        self._worker = layouts.text("site/sw.js")

    def page(self, name: str, words: Words, shop: str, **values: Any) -> bytes:
        style, script = self._styles[name], self._scripts[name]
        policy = (
            f"default-src 'none'; style-src {_hashed(style)}; script-src {_hashed(script)}; "
            "img-src 'self' data:; manifest-src 'self'; connect-src 'self'; worker-src 'self'; "
            "base-uri 'none'; form-action 'none'"
        )
        with bounded(self._layouts):
            html = self._pages[name].render(
                w=words,
                has=words.catalogue.__contains__,
                card_words=self._layouts.words(words.language),
                shop=shop,
                path=_path,
                style=Markup(style),
                script=Markup(script),
                policy=policy,
                **values,
            )
        return html.encode()

    def worker(self, files: Mapping[str, bytes]) -> bytes:
        versions = {
            path: hashlib.sha256(data).hexdigest()[:16] for path, data in sorted(files.items())
        }
        return self._worker.replace("{} /* files */", json.dumps(versions)).encode()


def _hashed(text: str) -> str:
    """The source expression for an inline style or script (CSP level 3, section 2.3.1)."""
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    return f"'sha256-{digest}'"
