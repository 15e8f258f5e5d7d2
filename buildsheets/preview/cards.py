"""A sound menu and a card's key in; the card as it prints, its pictures and its text, out.

Only the card that is looked at is composed, laid out and proofed, and is kept until it says
something else. Nothing is written: what print keeps in its cache is neither read nor added to.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from threading import Lock

from buildsheets import output
from buildsheets.findings.finding import Finding, Severity
from buildsheets.ledger.ledger import Ledger, load
from buildsheets.ledger.publish import EditionCard, Issuer, edition_cards
from buildsheets.menu.model import Menu
from buildsheets.place import Place
from buildsheets.preview.watch import Dated
from buildsheets.print.render import PageInfo
from buildsheets.print.tagged import as_text_page
from buildsheets.views.card import Card, CardKey, digest_of, label
from buildsheets.views.types import View

DOTS_PER_MM = 6.0
"""Of the pictures: some 150 dpi, sharp at twice the size a card has on most screens."""
POINTS_PER_MM = 72 / 25.4


@dataclass(frozen=True, slots=True)
class Shown:
    """A card as it prints. ``at`` is when its menu was read.

    Where it cannot be printed, ``refused`` says why, and the rest is of the last time it could.
    """

    name: str
    card: Card
    draft: bool
    digest: str
    at: datetime
    pages: tuple[PageInfo, ...]
    pdf: bytes
    notes: tuple[Finding, ...] = ()
    refused: tuple[Finding, ...] = ()


class Cards:
    """The cards of one menu, one after the other as it changes."""

    def __init__(self, place: Place) -> None:
        self.place = place
        self._lock = Lock()  # the engines are not made for several at once
        self._of: Dated | None = None
        self._composers: Mapping[CardKey, Callable[[], View | None]] = {}
        self._ledger: Ledger | None = None
        self._kept: dict[CardKey, Shown] = {}

    def keys(self, menu: Dated) -> tuple[CardKey, ...]:
        """The key of every card of a sound menu, in the order of print."""
        with self._lock:
            return tuple(self._made_ready(menu))

    def card(self, menu: Dated, key: CardKey) -> Shown | None:
        """A card as it prints; nothing where the menu has no such card."""
        with self._lock:
            compose = self._made_ready(menu).get(key)
            view = compose() if compose else None
            of = menu.checked.menu
            if view is None or of is None:
                return None
            return self._printed(of, self._with_foot(of, Card(key, view)), menu.at)

    def picture(self, shown: Shown, page: int) -> bytes:
        """A page of a card as PNG."""
        import pypdfium2

        with self._lock:
            document = pypdfium2.PdfDocument(shown.pdf)
            try:
                image = document[page].render(scale=DOTS_PER_MM / POINTS_PER_MM).to_pil()
            finally:
                document.close()
        held = io.BytesIO()
        # Print is mostly plain: a palette of 128 colours takes a third, unseen.
        image.quantize(128).save(held, "PNG")
        return held.getvalue()

    def text(self, shown: Shown) -> str:
        """A card as a page of text, in the order it is read."""
        with self._lock:
            return as_text_page(shown.card.view, self.place.layouts, shown.name)

    def warm_up(self) -> None:
        """Load what lays cards out, which takes a second, before it is asked for."""
        from buildsheets.print.engine import load_engine

        with self._lock:
            load_engine()

    def _made_ready(self, menu: Dated) -> Mapping[CardKey, Callable[[], View | None]]:
        if self._of is not menu and menu.checked.menu is not None:
            self._composers = output.composers(
                menu.checked.menu, menu.checked.servings, self.place.layouts
            )
            self._ledger = load(self.place.ledger)
            self._of = menu
        return self._composers

    def _with_foot(self, menu: Menu, card: Card) -> EditionCard:
        """With its code and revision, as a draft where no edition has it; against a ledger that
        cannot be read every card is a draft."""
        ledger = self._ledger
        if ledger is None or ledger.findings:
            ledger = Ledger(self.place.ledger)
        issuer = Issuer(menu.shop.site, self.place.layouts)
        return edition_cards([card], ledger, menu.edition, issuer).cards[0]

    def _printed(self, menu: Menu, made: EditionCard, at: datetime) -> Shown:
        card, held = made.card, self._kept.get(made.card.key)
        digest = digest_of(card.view)
        if held is not None and held.digest == digest:
            return held
        options = output.render_options(menu, self.place.layouts, card.key.language)
        done, name = output.print_card(card, options), label(card.view)
        if not done.sound:
            errors = tuple(one for one in done.findings if one.severity is Severity.ERROR)
            older = held or Shown(name, card, made.draft, digest, at, (), b"")
            return replace(older, refused=errors)
        shown = Shown(name, card, made.draft, digest, at, done.pages, done.pdf, done.findings)
        self._kept[card.key] = shown
        return shown
