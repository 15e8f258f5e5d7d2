"""A checked menu goes in; its cards, and the files of a print run, come out.

The rendering side of the pipeline: imported only by the commands that compose or print.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import Any

from buildsheets.cup.allergens import of_everything_sold
from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Finding, Severity, Source
from buildsheets.menu.model import Menu
from buildsheets.prep.batch_card import every_batch, poured_grams
from buildsheets.print import kinds
from buildsheets.print.checks import texts_of
from buildsheets.print.fonts import faces, families
from buildsheets.print.join import join
from buildsheets.print.layouts import Layouts
from buildsheets.print.printing import Press, joined, print_files, rendered_cards
from buildsheets.print.render import PageInfo, Printed, RenderOptions
from buildsheets.print.spool import Spool
from buildsheets.print.tagged import VARIANTS, TaggedOptions, tagged
from buildsheets.print.typeface import faces_of
from buildsheets.proof.proof import Expectations, expect, proof
from buildsheets.sheets.imposition import SheetOptions
from buildsheets.sheets.print_run import print_run, run_text
from buildsheets.sheets.sheets import impose
from buildsheets.views.addons import addons_view
from buildsheets.views.allergens import allergen_matrix
from buildsheets.views.batch import batch_card
from buildsheets.views.build import build_view
from buildsheets.views.card import Card, CardKey
from buildsheets.views.gauge import gauge_view
from buildsheets.views.station import passes, station_rows, station_view
from buildsheets.views.types import View
from buildsheets.views.words import Words
from buildsheets.views.words_card import words_card


def cards(menu: Menu, servings: Sequence[Serving], layouts: Layouts) -> tuple[Card, ...]:
    """Every card of the menu, in each language, without their printed identity; none of a drink
    that is not sold in the edition."""
    spoken = _spoken(menu, layouts)
    every = _composers(menu, servings, spoken)
    # Drink by drink, since what is worked out of one is large, and cup by cup.
    for cup in menu.cups.values():
        here = [one for one in servings if one.cup is cup and menu.sells(one.drink)]
        for serving in here:
            for language, words in spoken.items():
                _ = every[CardKey("build", serving.drink.id, cup.id, language)].card
                for station in menu.stations.values():
                    if passes(serving, station):
                        station_rows(menu, serving, station, words)
        for key, composed in every.items():
            if key.cup == cup.id:
                _ = composed.card
        for serving in here:
            serving.choices.told.clear()
    return tuple(one.card for one in every.values() if one.card is not None)


def _spoken(menu: Menu, layouts: Layouts) -> dict[str, Words]:
    """The words of each language of the shop."""
    return {one: layouts.words(one).measured_in(menu.shop) for one in menu.shop.languages}


def composers(
    menu: Menu, servings: Sequence[Serving], layouts: Layouts
) -> Mapping[CardKey, Callable[[], View | None]]:
    """What composes each card of the menu, by its key, once and when it is asked for; nothing
    comes of a card that would be empty."""
    return _composers(menu, servings, _spoken(menu, layouts))


def _composers(
    menu: Menu, servings: Sequence[Serving], spoken: Mapping[str, Words]
) -> dict[CardKey, _Composed]:
    return {
        CardKey(*name, language): composed
        for language, words in spoken.items()
        for name, composed in composers_in(words, menu, servings).items()
    }


def composers_in(
    words: Words, menu: Menu, servings: Sequence[Serving]
) -> Mapping[tuple[str, str, str], _Composed]:
    """What composes each card in a language, by its kind, subject and cup."""
    servings = [one for one in servings if menu.sells(one.drink)]
    cups = menu.cups.values()
    views: dict[tuple[str, str, str], Callable[[], View | None]] = {
        ("station", station.id, cup.id): partial(station_view, menu, station, cup, servings, words)
        for station in menu.stations.values()
        for cup in cups
        if any(passes(one, station) for one in servings if one.cup is cup)
    }
    for one in servings:
        views["build", one.drink.id, one.cup.id] = partial(build_view, menu, one, words)
    for cup in cups:
        views["addons", "all", cup.id] = partial(addons_view, menu, cup, servings, words)
        views["gauge", "all", cup.id] = partial(gauge_view, menu, cup, servings, words)
    for scale, batch in every_batch(menu, poured_grams(servings)):
        views["batch", batch.batch.id, scale] = partial(batch_card, menu, batch, scale, words)
    views["allergens", "all", ""] = partial(_allergen_matrix, menu, words)
    once = {name: _Composed(CardKey(*name, words.language), one) for name, one in views.items()}
    last, others = CardKey("words", "all", "", words.language), tuple(once.values())
    once["words", "all", ""] = _Composed(last, partial(_words_card, menu, servings, others, words))
    return once


class _Composed:
    """A card, composed when it is first asked for; called, it gives the card's view."""

    def __init__(self, key: CardKey, compose: Callable[[], View | None]) -> None:
        self._key, self._compose = key, compose

    @cached_property
    def card(self) -> Card | None:
        view = self._compose()
        return None if view is None else Card(self._key, view)

    def __call__(self) -> View | None:
        return None if self.card is None else self.card.view


def _allergen_matrix(menu: Menu, words: Words) -> View | None:
    return allergen_matrix(menu, of_everything_sold(menu), words)


def _words_card(
    menu: Menu,
    servings: Sequence[Serving],
    others: Sequence[Callable[[], View | None]],
    words: Words,
) -> View | None:
    """The card of the words that the other cards say."""
    views = (compose() for compose in others)
    said = {text for view in views if view is not None for text in texts_of(view)}
    return words_card(menu, servings, said, words)


def chosen(
    all_cards: Sequence[Card], only: Sequence[str], languages: Sequence[str]
) -> tuple[Card, ...]:
    """The cards of some languages whose kind, station, drink, batch or cup is among ``only``.

    Raises ``ValueError`` for a word that names none of them.
    """
    keys = [card.key for card in all_cards]
    for word in only:
        if not any(word in (key.kind, key.subject, key.cup) for key in keys):
            raise ValueError(f"there is no card of '{word}'")
    return tuple(
        card
        for key, card in zip(keys, all_cards, strict=True)
        if (not only or not {key.kind, key.subject, key.cup}.isdisjoint(only))
        and (not languages or key.language in languages)
    )


def files_of(all_cards: Sequence[Card]) -> dict[str, list[Card]]:
    """The cards of each output file: one a language, station (or kind) and size."""
    files: dict[str, list[Card]] = {}
    for card in all_cards:
        key = card.key
        folder = key.subject if key.kind == "station" else f"{key.kind}-cards"
        name = key.subject if key.kind == "batch" else key.cup or "all"
        files.setdefault(f"{key.language}/{folder}/{name}.pdf", []).append(card)
    return files


def menu_digest(sources: Mapping[str, Source]) -> str:
    """Digest of the menu's files, to tell later which menu an edition was made from."""
    total = hashlib.sha256()
    for name, source in sorted(sources.items()):
        total.update(f"{name}\0{len(source.text)}\0{source.text}".encode())
    return total.hexdigest()


def render_options(menu: Menu, layouts: Layouts, language: str = "") -> RenderOptions:
    """How this menu's cards are rendered, in one language or the shop's first."""
    spoken = language or menu.shop.languages[0]
    return RenderOptions(
        layouts=layouts.own,
        pouch_border_mm=menu.shop.pouch_border_mm,
        title=menu.edition.name.in_language(spoken),
        author=menu.shop.name.in_language(spoken),
        edition=menu.edition.code,
        language=spoken,
    )


@dataclass(frozen=True, slots=True)
class Run:
    """A print run: files by name within the edition's folder, and what to say about them.

    ``parts`` is on how many cards each code is printed.
    """

    files: Mapping[str, bytes]
    pages: int
    rendered: int
    findings: tuple[Finding, ...]
    summary: str = ""
    parts: Mapping[str, int] = field(default_factory=dict)

    @property
    def stopped(self) -> bool:
        """Whether a card could not be made; nothing is written then, since a wall with a card
        missing is a wall that somebody fills by guessing."""
        return any(finding.severity is Severity.ERROR for finding in self.findings)


def run(all_cards: Sequence[Card], press: Press) -> Run:
    """Render and proof the cards, and join them to one file a language, station and size."""
    made, rendered = print_files(files_of(all_cards), _proofing(press))
    files, findings, pages = Spool(bytes), list[Finding](), list[PageInfo]()
    for name, one in made.items():
        files.put(name, one.pdf)
        findings += one.findings
        pages += one.pages
    parts = {page.code: page.parts for page in pages}
    return Run(files, len(pages), rendered, tuple(findings), parts=parts)


def print_card(card: Card, options: RenderOptions) -> Printed:
    """One card rendered and proofed, which is kept nowhere."""
    (made,) = rendered_cards([card], options, partial(_proof_card, options))
    return made


def print_views(views: Sequence[View], options: RenderOptions) -> Printed:
    """Views in order as one file, each page proofed; nothing is kept of them."""
    pages = [Card(CardKey("page", view.foot.code, "", view.language), view) for view in views]
    return joined(rendered_cards(pages, options, partial(_proof_card, options)), options)


def _proofing(press: Press) -> Press:
    """The press that proofs each card as it comes out; one that passed is kept with its print."""
    return replace(press, proof=partial(_proof_card, press.options))


def _proof_card(options: RenderOptions, view: Any, card: Printed) -> list[Finding]:
    set_in = faces_of(Layouts(options.layouts))
    expected = expect(card.pages, [view], options.pouch_border_mm, set_in[0].cap_height_em)
    expected = replace(expected, families=families(set_in))
    named = replace(options, title=options.title or "card", language=view.language)
    return proof(join([card], named), expected, kinds.title(view))


def run_on_sheets(
    all_cards: Sequence[Card], press: Press, options: SheetOptions, layouts: Layouts
) -> Run:
    """The cards several to a sheet, one file a language, with a summary of what to load.

    With a flip, the add-on card of a build card's cup is printed behind it.
    """
    files: dict[str, list[Card]] = {}
    for card in all_cards:
        files.setdefault(card.key.language, []).append(card)
    made, rendered = print_files(files, _proofing(press))
    sheets: dict[str, bytes] = {}
    findings: list[Finding] = []
    summaries: list[str] = []
    allowed = families((*faces_of(layouts), *faces()))  # the sheet's own marks are set in ours
    for language, one in made.items():
        findings += one.findings
        if not one.pdf:
            continue
        words = layouts.words(language)
        asked = replace(options, language=language)
        backs = _backs(files[language], one.pages, options)
        imposed = impose(one.pdf, one.pages, asked, words, backs)
        findings += imposed.findings
        if imposed.pdf:
            name = f"{language}/sheets-{options.sheet.name.lower().replace(' ', '')}.pdf"
            sheets[name] = imposed.pdf
            findings += proof(imposed.pdf, Expectations(families=allowed), name)
            summaries.append(f"{language}: {run_text(print_run(imposed, asked), words)}")
    pages = sum(len(one.pages) for one in made.values())
    return Run(sheets, pages, rendered, tuple(findings), "\n".join(summaries))


def _backs(
    cards_of_one: Sequence[Card], pages: Sequence[PageInfo], options: SheetOptions
) -> dict[str, str]:
    """Build card to the add-on card behind it: of the same cup, and of one size."""
    if not options.flip:
        return {}
    sizes: dict[str, list[tuple[float, float]]] = {}
    for page in pages:
        sizes.setdefault(page.code, []).append((page.width_mm, page.height_mm))
    behind = {c.key.cup: c.view.foot.code for c in cards_of_one if c.key.kind == "addons"}
    pairs = {
        card.view.foot.code: behind[card.key.cup]
        for card in cards_of_one
        if card.key.kind == "build" and card.key.cup in behind
    }
    return {front: back for front, back in pairs.items() if sizes.get(front) == sizes.get(back)}


def run_accessible(
    all_cards: Sequence[Card],
    menu: Menu,
    layouts: Layouts,
    variant: str = VARIANTS[0],
    progress: Callable[[int, int], None] | None = None,
) -> Run:
    """One tagged document a language (PDF/UA-1, or a PDF/A), with tables for screen readers."""
    files: dict[str, bytes] = {}
    findings: list[Finding] = []
    spoken = [one for one in menu.shop.languages if any(c.key.language == one for c in all_cards)]
    for done, language in enumerate(spoken):
        if progress is not None:
            progress(done, len(spoken))
        views = [card.view for card in all_cards if card.key.language == language]
        pdf, found = tagged(
            views,
            TaggedOptions(
                title=menu.edition.name.in_language(language),
                language=language,
                author=menu.shop.name.in_language(language),
                edition=menu.edition.code,
                variant=variant,
                layouts=layouts.own,
            ),
        )
        findings += found
        if pdf:
            files[f"{language}/accessible.pdf"] = pdf
    if progress is not None:
        progress(len(spoken), len(spoken))
    return Run(files, 0, len(all_cards), tuple(findings))
