"""A checked menu goes in; its cards, and their PDFs in the output folder, come out.

The rendering side of the pipeline: imported only by the commands that print.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from buildsheets.cards.batch_compose import batch_cards
from buildsheets.cards.compose import build_view
from buildsheets.cards.compose_station import station_view
from buildsheets.cards.layouts import Layouts
from buildsheets.cards.prep_compose import allergen_matrix
from buildsheets.cards.render import RenderOptions
from buildsheets.core.cardkey import CardKey
from buildsheets.core.finding import Finding
from buildsheets.core.model import Menu
from buildsheets.editions import ledger
from buildsheets.editions.cards import Card
from buildsheets.editions.files import write_whole
from buildsheets.editions.ledger import Ledger
from buildsheets.editions.publish import Issuer, Plan, plan_revisions
from buildsheets.figures.serving import Serving
from buildsheets.prep_commands import poured_grams
from buildsheets.text.nodes import Source

LEDGER_FOLDER = "editions"
"""Beside the menu files, never in the output folder, which may be thrown away."""

LAYOUT_FOLDER = "layouts"
"""A shop's own layouts, beside the menu files."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a menu's own folders are: beside the file, or in the folder, that holds the menu."""

    folder: Path

    @classmethod
    def of(cls, menu: Path) -> Place:
        """The place of a menu given as a folder or as one file."""
        return cls(menu if menu.is_dir() else menu.parent)

    @property
    def ledger(self) -> Path:
        """The folder of published editions."""
        return self.folder / LEDGER_FOLDER

    @property
    def layouts(self) -> Layouts:
        """Shipped layouts, with the shop's own over them where it has any."""
        own = self.folder / LAYOUT_FOLDER
        return Layouts(own if own.is_dir() else None)


def cards(menu: Menu, servings: Sequence[Serving], layouts: Layouts) -> tuple[Card, ...]:
    """Every card of the menu, in each language, without their printed identity."""
    found: list[Card] = []
    poured = poured_grams(servings)
    for language in menu.shop.languages:
        words = layouts.words(language)
        for station in menu.stations.values():
            for size in menu.cups.values():
                view = station_view(menu, station, size, servings, words)
                if view is not None:
                    found.append(Card(CardKey("station", station.id, size.id, language), view))
        for serving in servings:
            key = CardKey("build", serving.drink.id, serving.cup.id, language)
            found.append(Card(key, build_view(menu, serving, words)))
        for batch, scale, card in batch_cards(menu, words, poured):
            found.append(Card(CardKey("batch", batch, scale, language), card))
        found.append(Card(CardKey("allergens", "all", "", language), allergen_matrix(menu, words)))
    return tuple(found)


def planned(menu: Menu, all_cards: Sequence[Card], place: Place) -> tuple[Plan, Ledger]:
    """The cards with code, revision and foot, against the ledger beside the menu."""
    book = ledger.load(place.ledger)
    issuer = Issuer(menu.shop.site, place.layouts)
    return plan_revisions(all_cards, book, menu.edition, issuer), book


def files_of(edition: str, all_cards: Sequence[Card]) -> dict[str, list[Card]]:
    """The cards of each output file: one a language, station (or kind) and size."""
    files: dict[str, list[Card]] = {}
    for card in all_cards:
        key = card.key
        folder = key.subject if key.kind == "station" else f"{key.kind}-cards"
        name = f"{edition}/{key.language}/{folder}/{key.cup or 'all'}.pdf"
        files.setdefault(name, []).append(card)
    return files


def menu_digest(sources: Mapping[str, Source]) -> str:
    """Digest of the menu's files, to tell later which menu an edition was made from."""
    total = hashlib.sha256()
    for name, source in sorted(sources.items()):
        total.update(f"{name}\0{len(source.text)}\0{source.text}".encode())
    return total.hexdigest()


@dataclass(frozen=True, slots=True)
class Written:
    """What a print run left behind: files with their page counts, findings, cards rendered."""

    files: Mapping[Path, int]
    findings: tuple[Finding, ...]
    rendered: int
    cards: int


def print_cards(
    menu: Menu,
    all_cards: Sequence[Card],
    place: Place,
    out: Path,
    *,
    workers: int | None = None,
    cache: bool = True,
    progress: Callable[[int, int], None] | None = None,
) -> Written:
    """Render the cards and write each file whole or not at all.

    Nothing is written where a card could not be made: a wall with a card missing is a wall that
    somebody fills by guessing.
    """
    from buildsheets.editions.cache import Cache, user_cache
    from buildsheets.editions.printing import Press, print_files

    language = menu.shop.languages[0]
    options = RenderOptions(
        layouts=place.layouts.own,
        pouch_border_mm=menu.shop.pouch_border_mm,
        title=menu.edition.name.in_language(language),
        author=menu.shop.name.in_language(language),
        edition=menu.edition.code,
        language=language,
    )
    files = files_of(menu.edition.code, all_cards)
    press = Press(options, Cache(user_cache()) if cache else None, workers)
    printed = print_files(files, press)
    findings = tuple(f for made in printed.files.values() for f in made.findings)
    stopped = any(not made.pdf for made in printed.files.values())
    written: dict[Path, int] = {}
    if not stopped:
        for done, (name, made) in enumerate(printed.files.items(), start=1):
            path = out / name
            path.parent.mkdir(parents=True, exist_ok=True)
            write_whole(path, made.pdf)
            written[path] = len(made.pages)
            if progress is not None:
                progress(done, len(files))
    return Written(written, findings, printed.rendered, len(all_cards))
