"""What a person asks of editions in; a text, the same as data, findings and files out.

Nothing here prints or exits: the command line does, and other programs may use these as well.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from buildsheets import output
from buildsheets.cli.edition_results import CardCurrent, CardsCurrent, Published, Site, compared
from buildsheets.compare.compare import NOWHERE, Side, compare, side_of_cards, side_of_edition
from buildsheets.compare.report import as_text, report_of
from buildsheets.compare.sentences import edition_name
from buildsheets.compare.sheet import change_sheet
from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Fix, any_error
from buildsheets.findings.spelling import listed, nearest
from buildsheets.ledger.current import Standing, State, current, what_follows
from buildsheets.ledger.edition_words import edition_words
from buildsheets.ledger.ledger import Ledger, load
from buildsheets.ledger.publish import EditionCards, Issuer, edition_cards, publish
from buildsheets.menu.model import Edition, Menu
from buildsheets.pipeline import Checked
from buildsheets.place import Place
from buildsheets.print.layouts import Layouts
from buildsheets.site.practice import Practice
from buildsheets.site.site import NotSold, not_sold_on, out_of_dates, site_files
from buildsheets.views.card import Card
from buildsheets.views.types import CupDrawing
from buildsheets.views.words import Words

NOW = "menu"  # stands for the menu as it is, where an edition's code is asked for


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to a command: for a person, for a program, and what is wrong.

    ``files`` are to be written by whoever asked, by their paths within an output folder.
    ``good`` is whether the answer is the one hoped for: every card current, every file as built.
    """

    text: str = ""
    data: object = None
    findings: tuple[Finding, ...] = ()
    files: dict[str, bytes] = field(default_factory=dict)
    good: bool = True


def publish_edition(
    cards: Sequence[Card],
    menu: Path,
    edition: Edition,
    issuer: Issuer,
    menu_digest: str,
    language: str,
    parts: Mapping[str, int] | None = None,
) -> Answer:
    """Publish the menu's edition: what changed, what to print and what to take down.

    ``parts`` is on how many cards each code is printed.
    """
    folder = Place.of(menu).ledger
    done, findings = publish(cards, folder, edition, issuer, menu_digest, parts=parts)
    if done is None or any_error(findings):
        return Answer(findings=tuple(findings), good=False)
    ledger = load(folder)
    published = ledger.edition(edition.code)
    assert published is not None
    before = side_of_edition(ledger, done.base) if done.base else NOWHERE
    comparison = compare(before, side_of_edition(ledger, published))
    words = edition_words(issuer.layouts, language)
    file = (folder / published.file_name).as_posix()
    data = Published(edition.code, file, len(done.cards), compared(comparison, words))
    if any(found.code == "PUB05" for found in findings):
        return Answer("", data, tuple(findings))
    begins = words.date(edition.valid_from)
    texts = [words("published", edition=edition.code, count=len(done.cards), day=begins)]
    if done.base:
        changes = as_text(report_of(comparison, words), words).rstrip()
        texts += [changes, words("published_next")]
    else:
        texts.append(words("published_first"))
    return Answer("\n\n".join(texts) + "\n", data, tuple(findings))


def compare_editions(
    menu: Path,
    before: str,
    after: str,
    language: str,
    layouts: Layouts,
    cards: EditionCards | None = None,
    sheet: bool = False,
) -> Answer:
    """What changed between two editions; the code ``menu`` stands for ``cards``, the menu now.

    With ``sheet``, ``changes.pdf`` for the team is among the files.
    """
    ledger = load(Place.of(menu).ledger)
    if ledger.findings:
        return Answer(findings=ledger.findings, good=False)
    sides: list[Side] = []
    for code in (before, after):
        if code.casefold() == NOW and cards is not None:
            sides.append(side_of_cards(cards))
        elif edition := ledger.edition(code):
            sides.append(side_of_edition(ledger, edition))
        else:
            return Answer(findings=(unknown_edition(code, ledger),), good=False)
    words = edition_words(layouts, language)
    comparison = compare(*sides)
    report = report_of(comparison, words)
    pdf, findings = change_sheet(report, words, layouts) if sheet else (b"", [])
    return Answer(
        as_text(report, words),
        compared(comparison, words),
        tuple(findings),
        {"changes.pdf": pdf} if pdf else {},
        good=not findings,
    )


def cards_current(
    texts: Sequence[str],
    menu: Path,
    day: date,
    language: str,
    layouts: Layouts,
    not_sold: NotSold | None = None,
) -> Answer:
    """Whether each card may hang on ``day``: typed codes, scanned addresses or scanned texts; and
    that what is on it is ``not_sold`` then. Such a card stays on the wall."""
    ledger = load(Place.of(menu).ledger)
    if ledger.findings:
        return Answer(findings=ledger.findings, good=False)
    words = edition_words(layouts, language)
    found = [current(text, ledger, day) for text in texts]
    lines, cards = [], []
    for standing in found:
        told = _of_sale(standing, ledger, day, not_sold or {}, words)
        lines += [*_standing_lines(standing, words), *(f"  {line}" for line in told)]
        cards.append(CardCurrent(standing, tuple(told)))
    good = all(
        s.state is State.CURRENT and s.revision is not None and not s.past_its_date for s in found
    )
    return Answer("\n".join(lines) + "\n", CardsCurrent(day, tuple(cards)), good=good)


def _of_sale(
    standing: Standing, ledger: Ledger, day: date, out: NotSold, words: Words
) -> list[str]:
    """What is on a card that hangs, and is not sold on a day."""
    card = standing.now
    if card is None:
        return []
    own = out.get(card.key.language, out.get(words.language, ()))
    asked = out.get(words.language, own)  # told to who asks, whatever card it is
    said = {card.key.language: [a._replace(text=b.text) for a, b in zip(own, asked, strict=True)]}
    texts = ledger.texts(card)
    told = out_of_dates(card, ledger, day, words), not_sold_on(card, texts, day, said, words)
    return [line for line in told if line]


def _standing_lines(standing: Standing, words: Words) -> list[str]:
    """How a card stands, in words: a line to act on, then what to know besides."""
    state, edition = standing.state, standing.edition
    card = standing.coming or standing.now
    key = f"is_{state}"
    known_code = standing.code in standing.suggested
    if state is State.UNKNOWN and known_code and standing.revision is not None:
        key = "is_unknown_revision"
    elif state is State.CURRENT and standing.revision is None:
        key = "is_current_which"
    elif state is State.CURRENT and card and standing.revision != card.revision:
        key = "is_current_older"
    lines = [
        words(
            key,
            code=standing.code,
            label=standing.coming.label if standing.coming else standing.label,
            revision=words("revision", number=card.revision) if card else "",
            edition=edition_name(edition, words.language) if edition else "",
            day=words.date(edition.valid_from) if edition else "",
        )
    ]
    if state is State.CURRENT and standing.until is not None:
        over = "is_past" if standing.past_its_date else "is_until"
        lines.append(words(over, day=words.date(standing.until)))
    if state in (State.CURRENT, State.COMING):
        lines.append(what_follows(standing, words))
    if standing.reason:
        lines.append(words("check_slip", reason=standing.reason))
    if state is State.UNKNOWN and standing.suggested and not known_code:
        lines.append(words("did_you_mean", codes=words.list(standing.suggested)))
    return [lines[0], *(f"  {line}" for line in lines[1:] if line)]


def phone_pages(
    menu: Path,
    day: date,
    shop: str,
    language: str,
    layouts: Layouts,
    not_sold: NotSold | None = None,
    drawings: Mapping[str, CupDrawing] | None = None,
    practices: Sequence[Practice] = (),
) -> Answer:
    """The static site of all that was published, as files under ``site/``; ``not_sold`` is what is
    sold out on the day they are made, ``drawings`` are cups by the digest of their card, and
    ``practices`` what can be practised in each language."""
    ledger = load(Place.of(menu).ledger)
    if ledger.findings:
        return Answer(findings=ledger.findings, good=False)
    pages = site_files(ledger, day, shop, language, layouts, not_sold, drawings, practices)
    files = {f"site/{path}": data for path, data in pages.items()}
    count = len(ledger.printed())
    text = f"{edition_words(layouts, language)('site_count')}: {count}\n"
    asked = sum(len(station.questions) for one in practices for station in one.stations)
    if practices:
        text += f"{layouts.words(language)('practice_count')}: {asked}\n"
    return Answer(text, Site(count, tuple(sorted(files)), asked), files=files)


def cards_for_print(
    cards: Sequence[Card], menu: Path, edition: Edition, issuer: Issuer, as_published: bool = False
) -> tuple[EditionCards, tuple[Finding, ...]]:
    """The cards with their feet, for printing; against a damaged ledger all are drafts.

    ``as_published`` gives them the feet they will have once the edition is published.
    """
    ledger = load(Place.of(menu).ledger)
    if ledger.findings:
        return edition_cards(cards, Ledger(ledger.folder), edition, issuer), ledger.findings
    return edition_cards(cards, ledger, edition, issuer, as_published), ()


def cards_now(
    checked: Checked, menu: Menu, path: Path, kinds: Sequence[str] = (), language: str = ""
) -> EditionCards:
    """The cards that the menu makes now, of some kinds or of all, in a language or in each, with
    the codes and revisions that they have or will have."""
    layouts = Place.of(path).layouts
    cards = [
        Card(key, view)
        for key, compose in output.composers(menu, checked.servings, layouts).items()
        if (not kinds or key.kind in kinds) and language in ("", key.language)
        if (view := compose()) is not None
    ]
    return cards_for_print(cards, path, menu.edition, Issuer(menu.shop.site, layouts))[0]


def unknown_edition(code: str, ledger: Ledger) -> Finding:
    known = [edition.code for edition in ledger.editions]
    there = f"published are {listed(known, 'and')}" if known else "none is published yet"
    return finding(
        "PUB07",
        None,
        f"no edition {code} was published; {there}",
        fixes=tuple(Fix(f"write {near}") for near in nearest(code, known)),
        hint=f'"{NOW}" stands for the menu as it is now',
    )
