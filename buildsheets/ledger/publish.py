"""Cards, the ledger and the menu's edition in; cards with their printed identity out.

A card keeps its code for life. Its revision goes up by one when what it says changes, and an
unchanged card keeps the foot of the edition that brought its revision: that is what hangs on the
wall, so an edition reprints only what is new.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from operator import attrgetter
from pathlib import Path
from typing import TypeVar

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Fix
from buildsheets.findings.spelling import listed
from buildsheets.ledger import codes, ledger, payload
from buildsheets.ledger.ledger import Entry, Ledger, Published
from buildsheets.ledger.lock import WAIT_S, Busy, sole_writer
from buildsheets.ledger.said import said
from buildsheets.ledger.words import edition_words, foot_texts
from buildsheets.menu.model import Edition
from buildsheets.print.files import Exists, clear_partials, write_whole
from buildsheets.print.layouts import Layouts
from buildsheets.print.versions import engine_versions, tool_version
from buildsheets.views.cardkey import CardKey
from buildsheets.views.cards import Card, label, with_foot
from buildsheets.views.digest import content_digest
from buildsheets.views.views import Foot

NAMED_AT_MOST = 5  # cards named in a message before "and others"


class Status(StrEnum):
    """How a card stands to the edition before."""

    SAME = "same"
    CHANGED = "changed"
    NEW = "new"


@dataclass(frozen=True, slots=True)
class PlannedCard:
    """A card with its foot filled in; a draft is not in the ledger and must not be hung up."""

    card: Card
    entry: Entry
    status: Status
    draft: bool


@dataclass(frozen=True, slots=True)
class Plan:
    """What an edition would print: its cards, and those of the edition before it lets go."""

    edition: Edition
    base: Published | None
    cards: tuple[PlannedCard, ...]
    withdrawn: tuple[Entry, ...]

    @property
    def is_draft(self) -> bool:
        """Whether any card differs from what was published."""
        return any(planned.draft for planned in self.cards)


@dataclass(frozen=True, slots=True)
class Issuer:
    """What a printed identity needs beside card and ledger: the shop's site and its layouts."""

    site: str | None = None
    layouts: Layouts = Layouts()  # noqa: RUF009 - frozen


def plan_revisions(
    cards: Sequence[Card],
    book: Ledger,
    edition: Edition,
    issuer: Issuer | None = None,
    as_published: bool = False,
) -> Plan:
    """Give every card its code, revision and foot.

    Against the edition itself where it is published already, else against the edition that
    holds on the day it begins. What the ledger does not have is a draft, unless the plan is
    drawn up ``as_published``: then all is as it will be once the edition is in the ledger.
    """
    issuer = issuer or Issuer()
    base = book.edition(edition.code) or book.in_force(edition.valid_from)
    digests = {card.key: content_digest(card.view) for card in cards}
    code_of = _codes({card.key: label(card.view) for card in cards}, digests, book, base)
    before = base.by_code() if base else {}
    highest = _highest_revisions(book)
    feet = _feet(edition, {card.key.language for card in cards}, issuer.layouts)

    planned = []
    for card in cards:
        code, digest = code_of[card.key], digests[card.key]
        entry = before.get(code)
        if entry is not None and entry.digest == digest:
            source = book.edition(entry.since)
            texts = source.feet[card.key.language] if source else feet[card.key.language]
            entry = replace(entry, key=card.key)
            status = Status.SAME
        else:
            status = Status.CHANGED if code in highest else Status.NEW
            revision = highest.get(code, 0) + 1
            entry = Entry(code, card.key, revision, edition.code, digest, label(card.view))
            texts = feet[card.key.language]
        draft = status is not Status.SAME and not as_published
        foot = _foot(card, entry, texts, draft, issuer)
        planned.append(PlannedCard(with_foot(card, foot), entry, status, draft))
    kept = set(code_of.values())
    gone = tuple(entry for code, entry in sorted(before.items()) if code not in kept)
    return Plan(edition, base, tuple(planned), gone)


def publish(
    cards: Sequence[Card],
    folder: Path,
    edition: Edition,
    issuer: Issuer | None = None,
    menu_digest: str = "",
    wait_s: float = WAIT_S,
    parts: Mapping[str, int] | None = None,
) -> tuple[Plan | None, list[Finding]]:
    """Enter the edition in the ledger in ``folder`` and return its plan, no card a draft.

    ``parts`` says on how many cards each code is printed, as far as they were printed.

    Nothing is written where a finding is an error: the ledger is damaged, another run is
    publishing, or the edition is published already and its cards or dates have changed since.
    """
    try:
        with sole_writer(folder, wait_s):
            clear_partials(folder)
            book = ledger.load(folder)
            if book.findings:
                return None, list(book.findings)
            plan = plan_revisions(cards, book, edition, issuer)
            if (there := book.edition(edition.code)) is not None:
                return plan, [_published_already(plan, there)]
            text = _ledger_text(plan, book, issuer or Issuer(), menu_digest, parts or {})
            record = ledger.read_text(text)
            write_whole(folder / record.file_name, text.encode(), replace=False, durable=True)
            findings = _left_behind(plan, book)
    except (Busy, Exists) as error:
        return None, [_busy(folder, str(error))]
    return plan_revisions(cards, book, edition, issuer, as_published=True), findings


def _ledger_text(
    plan: Plan, book: Ledger, issuer: Issuer, menu_digest: str, parts: Mapping[str, int]
) -> str:
    edition = plan.edition
    languages = {planned.card.key.language for planned in plan.cards}
    record = Published(
        number=len(book.editions) + 1,
        code=edition.code,
        names=edition.name.by_language,
        valid_from=edition.valid_from,
        valid_to=edition.valid_to,
        follows=book.editions[-1].digest if book.editions else "",
        menu=menu_digest,
        made_with={"buildsheets": tool_version(), **engine_versions()},
        feet=_feet(edition, languages, issuer.layouts),
        withdrawn=tuple(entry.code for entry in plan.withdrawn),
        entries=tuple(
            replace(entry, parts=parts.get(code, entry.parts))
            for code, entry in sorted((p.entry.code, p.entry) for p in plan.cards)
        ),
    )
    says = {p.entry.code: said(p.card.view) for p in plan.cards if p.status is not Status.SAME}
    return ledger.write_text(record, says)


def _codes(
    labels: Mapping[CardKey, str],
    digests: Mapping[CardKey, str],
    book: Ledger,
    base: Published | None,
) -> dict[CardKey, str]:
    """A code for every key: its own from before, that of a card whose key was renamed to it, or a
    new one. A card whose key was renamed says the same still, or goes by the same name."""
    last_key = {e.code: e.key for edition in book.editions for e in edition.entries}
    known = {key: code for code, key in last_key.items()}
    code_of = {key: known[key] for key in digests if key in known}
    gone = [entry for entry in (base.entries if base else ()) if entry.key not in digests]
    for said_of, was in ((digests, attrgetter("digest")), (labels, attrgetter("label"))):
        missing = [key for key in digests if key not in code_of]
        gone = [entry for entry in gone if entry.code not in code_of.values()]
        # Where two cards say the same, which of them was renamed cannot be told: new codes.
        fresh = _alone((_likeness(key, said_of[key]), key) for key in missing)
        lost = _alone((_likeness(entry.key, was(entry)), entry) for entry in gone)
        code_of |= {fresh[like]: lost[like].code for like in fresh.keys() & lost.keys()}
    rest = [key for key in digests if key not in code_of]
    return {**code_of, **codes.assign(rest, taken=last_key)}


_Like = tuple[str, str, str]
_Held = TypeVar("_Held")


def _likeness(key: CardKey, text: str) -> _Like:
    return key.kind, key.language, text


def _alone(pairs: Iterable[tuple[_Like, _Held]]) -> dict[_Like, _Held]:
    """What stands under one likeness alone."""
    found: dict[_Like, list[_Held]] = {}
    for like, held in pairs:
        found.setdefault(like, []).append(held)
    return {like: held[0] for like, held in found.items() if len(held) == 1}


def _highest_revisions(book: Ledger) -> dict[str, int]:
    highest: dict[str, int] = {}
    for code, revision in book.printed():
        highest[code] = max(revision, highest.get(code, 0))
    return highest


def _feet(
    edition: Edition, languages: Iterable[str], layouts: Layouts
) -> dict[str, tuple[str, str]]:
    return {
        language: foot_texts(
            edition_words(layouts, language),
            edition.name.in_language(language),
            edition.valid_from,
            edition.valid_to,
        )
        for language in languages
    }


def _foot(card: Card, entry: Entry, texts: tuple[str, str], draft: bool, issuer: Issuer) -> Foot:
    words = edition_words(issuer.layouts, card.key.language)
    revision = words("draft" if draft else "revision", number=entry.revision)
    if issuer.site and not draft:
        scanned = payload.link(issuer.site, entry.code, entry.revision)
    else:
        scanned = payload.offline_text(card.view, f"{entry.code} {revision} {entry.since}")
    return replace(
        card.view.foot,
        code=entry.code,
        revision=revision,
        edition=texts[0],
        valid=texts[1],
        qr_payload=scanned,
    )


def _published_already(plan: Plan, before: Published) -> Finding:
    edition = plan.edition
    changed = [planned.entry.label for planned in plan.cards if planned.draft]
    changed += [entry.label for entry in plan.withdrawn]
    dates = (before.valid_from, before.valid_to) == (edition.valid_from, edition.valid_to)
    if not changed and dates:
        message = f"edition {edition.code} is published already, and nothing has changed since"
        return finding("PUB05", edition.span, message)
    named = [*dict.fromkeys(changed)][:NAMED_AT_MOST]
    if len(changed) > len(named):
        named.append(f"{len(changed) - len(named)} more")
    what = f"{listed(named, 'and')} changed since" if changed else "its dates changed since"
    return finding(
        "PUB01",
        edition.span,
        f"edition {edition.code} is published and its cards may hang on the wall; {what}",
        fixes=(Fix(f"give the edition a new code, such as {_next_code(edition.code)}"),),
        hint="a published edition is never rewritten: it is the record of what hangs on the wall",
    )


def _next_code(code: str) -> str:
    stem, dash, count = code.rpartition("-")
    return f"{stem}-{int(count) + 1}" if dash and count.isdigit() else f"{code}-2"


def _left_behind(plan: Plan, book: Ledger) -> list[Finding]:
    """A warning for each edition published ahead that was made without this one's changes."""
    edition = plan.edition
    return [
        finding(
            "PUB04",
            edition.span,
            f"edition {ahead.code} begins {ahead.valid_from}, after {edition.code} "
            f"({edition.valid_from}), but was published before it: it lacks its changes",
            fixes=(Fix(f"publish {ahead.code} again, as {_next_code(ahead.code)}"),),
        )
        for ahead in book.editions
        if ahead.valid_from > edition.valid_from and plan.is_draft
    ]


def _busy(folder: Path, why: str) -> Finding:
    hint = f"run it again when the other run on {folder.name}/ has ended"
    return finding("PUB03", None, f"nothing was published: {why}", hint=hint)
