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
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from jinja2.sandbox import ImmutableSandboxedEnvironment
from markupsafe import Markup

from buildsheets.ledger.current import Standing, State, standing
from buildsheets.ledger.ledger import Entry, Ledger
from buildsheets.ledger.payload import page_name
from buildsheets.ledger.said import Said
from buildsheets.ledger.words import edition_words
from buildsheets.print.layouts import Layouts
from buildsheets.views.words import Words


@dataclass(frozen=True, slots=True)
class Stretch:
    """From ``first`` on, until the next stretch: how the card stands, in words, and where to go."""

    first: date
    state: State
    title: str
    lines: tuple[str, ...]
    instead: Entry | None


def site_files(
    book: Ledger, day: date, shop: str, language: str, layouts: Layouts
) -> dict[str, bytes]:
    """Every file of the site by its path; the same ledger and day give the same bytes."""
    templates = _Templates(layouts)
    cards = sorted(
        book.printed().values(),
        key=lambda e: (e.key.language != language, e.label.casefold(), e.code, -e.revision),
    )
    files: dict[str, bytes] = {}
    rows = []
    for entry in cards:
        words = edition_words(layouts, entry.key.language)
        stretches = stretches_of(entry, book, day, words)
        path = f"{page_name(entry.code, entry.revision)}/index.html"
        files[path] = templates.card(entry, stretches, book.says(entry), words, shop)
        rows.append({"entry": entry, "path": path, "stretches": stretches, "words": words})
    words = edition_words(layouts, language)
    in_force = book.in_force(day)
    files["index.html"] = templates.index(rows, words, shop, in_force.code if in_force else "")
    files["sw.js"] = templates.worker(files)
    return files


def stretches_of(entry: Entry, book: Ledger, day: date, words: Words) -> tuple[Stretch, ...]:
    """How the card stands on ``day`` and on every later day on which that changes."""
    days = {day}
    for edition in book.editions:
        days |= {edition.valid_from, edition.valid_to + timedelta(days=1)}
    found: list[Stretch] = []
    for first in sorted(each for each in days if each >= day):
        held = standing(entry.code, entry.revision, book, first)
        stretch = Stretch(first, held.state, *_told(held, words))
        if not found or (found[-1].state, found[-1].lines) != (stretch.state, stretch.lines):
            found.append(stretch)
    return tuple(found)


def _told(held: Standing, words: Words) -> tuple[str, tuple[str, ...], Entry | None]:
    lines: list[str] = []
    instead: Entry | None = None
    if held.state is State.CURRENT and held.until is not None:
        over = "site_over" if held.past_its_date else "site_current_until"
        lines.append(words(over, day=words.date(held.until)))
        if held.next_from is not None:
            following = held.next_entry
            revision = words("revision", number=following.revision) if following else ""
            key = "is_next" if following else "is_next_gone"
            lines.append(words(key, day=words.date(held.next_from), revision=revision))
    elif held.state is State.COMING:
        assert held.edition is not None
        begins = held.edition.valid_from
        lines.append(words("site_coming_until", day=words.date(begins)))
        instead = held.now
    elif held.state is State.SUPERSEDED:
        instead = held.now
    else:
        lines.append(words("site_nothing_now"))
    return words(f"site_{held.state}"), tuple(lines), instead


class _Templates:
    """The site's layouts, with style and scripts put in and named by digest in the policy."""

    def __init__(self, layouts: Layouts) -> None:
        # What a card says has no empty fields: a template asks for them all the same.
        environment = ImmutableSandboxedEnvironment(
            autoescape=True, trim_blocks=True, lstrip_blocks=True
        )
        self._card = environment.from_string(layouts.text("site/card.html"))
        self._index = environment.from_string(layouts.text("site/index.html"))
        self._worker = layouts.text("site/sw.js")
        self._style = layouts.text("site/style.css")
        self._scripts = {
            name: layouts.text("site/state.js") + layouts.text(f"site/{name}.js")
            for name in ("card", "index")
        }

    def _shared(self, name: str) -> dict[str, Any]:
        script = self._scripts[name]
        policy = (
            f"default-src 'none'; style-src {_hashed(self._style)}; script-src {_hashed(script)}; "
            "connect-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'none'"
        )
        return {"style": Markup(self._style), "script": Markup(script), "policy": policy}

    def card(
        self, entry: Entry, stretches: Sequence[Stretch], told: Said, words: Words, shop: str
    ) -> bytes:
        html = self._card.render(
            entry=entry,
            stretches=stretches,
            told=told,
            w=words,
            shop=shop,
            has=words.catalogue.__contains__,
            page=lambda other: f"../../{page_name(other.code, other.revision)}/index.html",
            **self._shared("card"),
        )
        return html.encode()

    def index(
        self, rows: Sequence[Mapping[str, Any]], words: Words, shop: str, edition: str
    ) -> bytes:
        html = self._index.render(
            rows=rows, w=words, shop=shop, edition=edition, **self._shared("index")
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
