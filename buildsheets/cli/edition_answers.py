"""What a person asks of editions in; a text, the same as data, findings and files out.

Nothing here prints or exits: the command line does, and other programs may use these as well.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from buildsheets.compare.compare import NOWHERE, Side, compare, side_of_edition, side_of_plan
from buildsheets.compare.sheet import change_sheet
from buildsheets.compare.telling import as_json, as_text, tell
from buildsheets.compare.wording import edition_name
from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Fix, any_error
from buildsheets.findings.spelling import listed, nearest
from buildsheets.ledger import ledger
from buildsheets.ledger.current import Standing, State, current
from buildsheets.ledger.ledger import Ledger
from buildsheets.ledger.publish import Issuer, Plan, plan_revisions, publish
from buildsheets.ledger.words import edition_words
from buildsheets.menu.model import Edition
from buildsheets.output import Place
from buildsheets.print.layouts import Layouts
from buildsheets.site.site import site_files
from buildsheets.views.cards import Card
from buildsheets.views.words import Words

NOW = "menu"  # stands for the menu as it is, where an edition's code is asked for


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to a command: for a person, for a program, and what is wrong.

    ``files`` are to be written by whoever asked, by their paths within an output folder.
    ``good`` is whether the answer is the one hoped for: every card current, nothing damaged.
    """

    text: str
    data: dict[str, Any] = field(default_factory=dict)
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
    words = edition_words(issuer.layouts, language)
    folder = Place.of(menu).ledger
    plan, findings = publish(cards, folder, edition, issuer, menu_digest, parts=parts)
    if plan is None or any_error(findings):
        return Answer("", findings=tuple(findings), good=False)
    book = ledger.load(folder)
    published = book.edition(edition.code)
    assert published is not None
    before = side_of_edition(book, plan.base) if plan.base else NOWHERE
    comparison = compare(before, side_of_edition(book, published))
    data = {
        "edition": edition.code,
        "file": (folder / published.file_name).as_posix(),
        "cards": len(plan.cards),
        **as_json(comparison, words),
    }
    if any(finding.code == "PUB05" for finding in findings):
        return Answer("", data, tuple(findings))
    begins = words.date(edition.valid_from)
    told = [words("published", edition=edition.code, count=len(plan.cards), day=begins)]
    if plan.base:
        told += [as_text(tell(comparison, words), words).rstrip(), words("published_next")]
    else:
        told.append(words("published_first"))
    return Answer("\n\n".join(told) + "\n", data, tuple(findings))


def compare_editions(
    menu: Path,
    before: str,
    after: str,
    language: str,
    layouts: Layouts,
    plan: Plan | None = None,
    sheet: bool = False,
) -> Answer:
    """What changed between two editions; the code ``menu`` stands for ``plan``, the menu now.

    With ``sheet``, ``changes.pdf`` for the team is among the files.
    """
    book = ledger.load(Place.of(menu).ledger)
    if book.findings:
        return Answer("", findings=book.findings, good=False)
    sides: list[Side] = []
    for code in (before, after):
        edition = book.edition(code)
        if code.casefold() == NOW and plan is not None:
            sides.append(side_of_plan(plan))
        elif edition is not None:
            sides.append(side_of_edition(book, edition))
        else:
            return Answer("", findings=(_unknown_edition(code, book),), good=False)
    words = edition_words(layouts, language)
    comparison = compare(*sides)
    told = tell(comparison, words)
    pdf, findings = change_sheet(told, words, layouts) if sheet else (b"", [])
    return Answer(
        as_text(told, words),
        as_json(comparison, words),
        tuple(findings),
        {"changes.pdf": pdf} if pdf else {},
        good=not findings,
    )


def cards_current(
    texts: Sequence[str], menu: Path, day: date, language: str, layouts: Layouts
) -> Answer:
    """Whether each card may hang on ``day``: typed codes, scanned addresses or scanned texts."""
    book = ledger.load(Place.of(menu).ledger)
    if book.findings:
        return Answer("", findings=book.findings, good=False)
    words = edition_words(layouts, language)
    held = [current(text, book, day) for text in texts]
    lines = [line for standing in held for line in standing_lines(standing, words)]
    data = {"day": day.isoformat(), "cards": [_standing_json(standing) for standing in held]}
    good = all(
        s.state is State.CURRENT and s.revision is not None and not s.past_its_date for s in held
    )
    return Answer("\n".join(lines) + "\n", data, good=good)


def standing_lines(held: Standing, words: Words) -> list[str]:
    """How a card stands, in words: a line to act on, then what to know besides."""
    now = held.now
    revision = words("revision", number=now.revision) if now else ""
    label = held.label
    key = f"is_{held.state}"
    begins: dict[str, str] = {}
    if held.state is State.UNKNOWN and held.revision is not None and held.code in held.suggested:
        key = "is_unknown_revision"
    elif held.state is State.CURRENT and held.revision is None:
        key = "is_current_which"
    elif held.state is State.CURRENT and now and held.revision != now.revision:
        key = "is_current_older"
    if held.coming is not None and held.edition is not None:
        label, revision = held.coming.label, words("revision", number=held.coming.revision)
        begins = {
            "edition": edition_name(held.edition, words.language),
            "day": words.date(held.edition.valid_from),
        }
    lines = [words(key, code=held.code, label=label, revision=revision, **begins)]
    if held.state is State.CURRENT and held.until is not None:
        over = "is_past" if held.past_its_date else "is_until"
        lines.append("  " + words(over, day=words.date(held.until)))
    if held.state in (State.CURRENT, State.COMING) and held.next_from is not None:
        following = held.next_entry
        text = words("revision", number=following.revision) if following else ""
        key = "is_next" if following else "is_next_gone"
        lines.append("  " + words(key, day=words.date(held.next_from), revision=text))
    if held.reason:
        lines.append("  " + words("check_slip", reason=held.reason))
    if held.state is State.UNKNOWN and held.suggested and held.code not in held.suggested:
        lines.append("  " + words("did_you_mean", codes=words.list(held.suggested)))
    return lines


def phone_pages(menu: Path, day: date, shop: str, language: str, layouts: Layouts) -> Answer:
    """The static site of all that was published, as files under ``site/``."""
    book = ledger.load(Place.of(menu).ledger)
    if book.findings:
        return Answer("", findings=book.findings, good=False)
    words = edition_words(layouts, language)
    pages = site_files(book, day, shop, language, layouts)
    files = {f"site/{path}": data for path, data in pages.items()}
    text = words("site_count") + f": {len(book.printed())}\n"
    return Answer(text, {"cards": len(book.printed()), "files": sorted(files)}, files=files)


def plan_cards(
    cards: Sequence[Card],
    menu: Path,
    edition: Edition,
    issuer: Issuer,
    as_published: bool = False,
) -> tuple[Plan, tuple[Finding, ...]]:
    """The cards with their feet, for printing; against a damaged ledger all are drafts.

    ``as_published`` gives them the feet they will have once the edition is published.
    """
    book = ledger.load(Place.of(menu).ledger)
    if book.findings:
        return plan_revisions(cards, Ledger(book.folder), edition, issuer), book.findings
    return plan_revisions(cards, book, edition, issuer, as_published), ()


def _standing_json(held: Standing) -> dict[str, Any]:
    return {
        "code": held.code,
        "revision": held.revision,
        "state": held.state.value,
        "now": held.now.revision if held.now else None,
        "label": held.label or None,
        "until": held.until.isoformat() if held.until else None,
        "past_its_date": held.past_its_date,
        "changes_on": held.next_from.isoformat() if held.next_from else None,
        "then": held.next_entry.revision if held.next_entry else None,
        "suggested": list(held.suggested),
    }


def _unknown_edition(code: str, book: Ledger) -> Finding:
    known = [edition.code for edition in book.editions]
    near = nearest(code, known)
    there = f"published are {listed(known, 'and')}" if known else "none is published yet"
    return finding(
        "PUB07",
        None,
        f"no edition {code} was published; {there}",
        fixes=tuple(Fix(f"write {suggestion}") for suggestion in near),
        hint=f'"{NOW}" stands for the menu as it is now',
    )
