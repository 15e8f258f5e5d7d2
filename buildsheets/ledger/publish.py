"""Cards, the ledger and the menu's edition in; cards with their printed identity out.

A card keeps its code for life. Its revision goes up by one when what it says changes, and an
unchanged card keeps the foot of the edition that brought its revision: that is what hangs on the
wall, so an edition reprints only what is new.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from operator import attrgetter
from pathlib import Path
from typing import TypeVar

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Fix
from buildsheets.findings.spelling import listed
from buildsheets.ledger import codes, payload
from buildsheets.ledger.card_texts import card_texts
from buildsheets.ledger.edition_words import edition_words
from buildsheets.ledger.ledger import (
    Entry,
    Ledger,
    PublishedEdition,
    edition_file,
    load,
    read_edition,
)
from buildsheets.ledger.lock import WAIT_S, Busy, sole_writer
from buildsheets.menu.model import Edition
from buildsheets.print.files import Exists, clear_partials, write_whole
from buildsheets.print.layouts import Layouts
from buildsheets.print.versions import engine_versions, tool_version
from buildsheets.views.card import Card, CardKey, content_digest, label

NAMED_AT_MOST = 5  # cards named in a message before "and others"


@dataclass(frozen=True, slots=True)
class EditionCard:
    """A card with its foot filled in; a draft is not in the ledger and must not be hung up."""

    card: Card
    entry: Entry
    draft: bool


@dataclass(frozen=True, slots=True)
class EditionCards:
    """All cards of an edition, the edition before it, and the cards of that one it withdraws."""

    edition: Edition
    base: PublishedEdition | None
    cards: tuple[EditionCard, ...]
    withdrawn: tuple[Entry, ...]

    @property
    def is_draft(self) -> bool:
        """Whether any card differs from what was published."""
        return any(card.draft for card in self.cards)


@dataclass(frozen=True, slots=True)
class Issuer:
    """What a printed identity needs beside card and ledger: the shop's site and its layouts."""

    site: str | None = None
    layouts: Layouts = Layouts()  # noqa: RUF009 - frozen


def edition_cards(
    cards: Sequence[Card],
    ledger: Ledger,
    edition: Edition,
    issuer: Issuer | None = None,
    as_published: bool = False,
) -> EditionCards:
    """Give every card its code, revision and foot.

    Against the edition itself where it is published already, else against the edition that
    holds on the day it begins. What the ledger does not have is a draft, unless the cards are
    asked for ``as_published``: then all is as it will be once the edition is in the ledger.
    """
    issuer = issuer or Issuer()
    base = ledger.edition(edition.code) or ledger.in_force(edition.valid_from)
    said = {card.key: (content_digest(view), label(view)) for card in cards for view in [card.view]}
    digests = {key: digest for key, (digest, _) in said.items()}
    labels = {key: name for key, (_, name) in said.items()}
    code_of = _codes(labels, digests, ledger, base)
    before = base.by_code() if base else {}
    highest: dict[str, int] = {}
    for code, revision in ledger.printed():
        highest[code] = max(revision, highest.get(code, 0))
    feet = _feet(edition, {card.key.language for card in cards}, issuer.layouts)

    found = []
    for card in cards:
        code, digest = code_of[card.key], digests[card.key]
        entry, foot = before.get(code), feet[card.key.language]
        changed = entry is None or entry.digest != digest
        if entry is not None and not changed:
            if source := ledger.edition(entry.since):
                foot = source.feet[card.key.language]
            entry = replace(entry, key=card.key)
        else:
            revision = highest.get(code, 0) + 1
            entry = Entry(code, card.key, revision, edition.code, digest, labels[card.key])
        draft = changed and not as_published
        found.append(EditionCard(_with_foot(card, entry, foot, draft, issuer), entry, draft))
    kept = set(code_of.values())
    withdrawn = tuple(entry for code, entry in sorted(before.items()) if code not in kept)
    return EditionCards(edition, base, tuple(found), withdrawn)


def publish(
    cards: Sequence[Card],
    folder: Path,
    edition: Edition,
    issuer: Issuer | None = None,
    menu_digest: str = "",
    wait_s: float = WAIT_S,
    parts: Mapping[str, int] | None = None,
) -> tuple[EditionCards | None, list[Finding]]:
    """Enter the edition in the ledger in ``folder`` and return its cards, none a draft.

    ``parts`` says on how many cards each code is printed, as far as they were printed.

    Nothing is written where a finding is an error: the ledger is damaged, another run is
    publishing, or the edition is published already and its cards or dates have changed since.
    """
    try:
        with sole_writer(folder, wait_s):
            clear_partials(folder)
            ledger = load(folder)
            if ledger.findings:
                return None, list(ledger.findings)
            drafts = edition_cards(cards, ledger, edition, issuer)
            if (published := ledger.edition(edition.code)) is not None:
                return drafts, [_published_already(drafts, published)]
            text = _file_text(drafts, ledger, issuer or Issuer(), menu_digest, parts or {})
            path = folder / read_edition(text).file_name
            write_whole(path, text.encode(), replace=False, durable=True)
    except (Busy, Exists) as error:
        hint = f"run it again when the other run on {folder.name}/ has ended"
        return None, [finding("PUB03", None, f"nothing was published: {error}", hint=hint)]
    done = edition_cards(cards, ledger, edition, issuer, as_published=True)
    return done, _without_these_changes(drafts, ledger)


def _file_text(
    drafts: EditionCards, ledger: Ledger, issuer: Issuer, menu_digest: str, parts: Mapping[str, int]
) -> str:
    edition = drafts.edition
    feet = _feet(edition, {one.card.key.language for one in drafts.cards}, issuer.layouts)
    head = {
        "number": len(ledger.editions) + 1,
        "edition": edition.code,
        "name": dict(edition.name.by_language),
        "from": edition.valid_from,
        "to": edition.valid_to,
        "follows": ledger.editions[-1].digest if ledger.editions else "",
        "menu": menu_digest,
        "made_with": dict(sorted({"buildsheets": tool_version(), **engine_versions()}.items())),
        "feet": {
            key: {"edition": name, "valid": ends} for key, (name, ends) in sorted(feet.items())
        },
        "withdrawn": [entry.code for entry in drafts.withdrawn],
    }
    entries = sorted((one.entry for one in drafts.cards), key=lambda entry: entry.code)
    return edition_file(
        head,
        (replace(entry, parts=parts.get(entry.code, entry.parts)) for entry in entries),
        {one.entry.code: card_texts(one.card.view) for one in drafts.cards if one.draft},
    )


def _codes(
    labels: Mapping[CardKey, str],
    digests: Mapping[CardKey, str],
    ledger: Ledger,
    base: PublishedEdition | None,
) -> dict[CardKey, str]:
    """A code for every key: its own from before, that of a card whose key was renamed to it, or a
    new one. A card whose key was renamed says the same still, or goes by the same name."""
    last_key = {e.code: e.key for edition in ledger.editions for e in edition.entries}
    known = {key: code for code, key in last_key.items()}
    code_of = {key: known[key] for key in digests if key in known}
    gone = [entry for entry in (base.entries if base else ()) if entry.key not in digests]
    for texts, of_entry in ((digests, attrgetter("digest")), (labels, attrgetter("label"))):
        gone = [entry for entry in gone if entry.code not in code_of.values()]
        # Where two cards say the same, which of them was renamed cannot be told: new codes.
        new = _told_apart(((k.kind, k.language, texts[k]), k) for k in digests if k not in code_of)
        old = _told_apart(((e.key.kind, e.key.language, of_entry(e)), e) for e in gone)
        code_of |= {new[says]: old[says].code for says in new.keys() & old.keys()}
    rest = [key for key in digests if key not in code_of]
    return {**code_of, **codes.assign(rest, taken=last_key)}


_Says = tuple[str, str, str]
_Card = TypeVar("_Card")


def _told_apart(cards: Iterable[tuple[_Says, _Card]]) -> dict[_Says, _Card]:
    """The cards by what they say, without those that say the same as another."""
    pairs = list(cards)
    count = Counter(says for says, _ in pairs)
    return {says: card for says, card in pairs if count[says] == 1}


def _feet(
    edition: Edition, languages: Iterable[str], layouts: Layouts
) -> dict[str, tuple[str, str]]:
    """By language: "Winter 2026, from 1 Dec 2026", and until when it holds."""
    feet = {}
    for language in languages:
        words = edition_words(layouts, language)
        begins, ends = words.date(edition.valid_from), words.date(edition.valid_to)
        name = edition.name.in_language(language)
        feet[language] = words("foot_edition", name=name, day=begins), words("foot_valid", day=ends)
    return feet


def _with_foot(
    card: Card, entry: Entry, foot: tuple[str, str], draft: bool, issuer: Issuer
) -> Card:
    words, view = edition_words(issuer.layouts, card.key.language), card.view
    revision = words("draft" if draft else "revision", number=entry.revision)
    if issuer.site and not draft:
        scanned = payload.link(issuer.site, entry.code, entry.revision)
    else:
        scanned = payload.offline_text(view, f"{entry.code} {revision} {entry.since}")
    edition, valid = foot
    printed = {"code": entry.code, "revision": revision, "edition": edition, "valid": valid}
    printed_foot = replace(view.foot, **printed, qr_payload=scanned)
    mark = words("draft_mark") if draft else ""
    return Card(card.key, replace(view, foot=printed_foot, code=entry.code, watermark=mark))


def _published_already(drafts: EditionCards, published: PublishedEdition) -> Finding:
    edition = drafts.edition
    changed = [one.entry.label for one in drafts.cards if one.draft]
    changed += [entry.label for entry in drafts.withdrawn]
    dates = (published.valid_from, published.valid_to) == (edition.valid_from, edition.valid_to)
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


def _without_these_changes(drafts: EditionCards, ledger: Ledger) -> list[Finding]:
    """A warning for each edition published ahead that was made without this one's changes."""
    edition = drafts.edition
    return [
        finding(
            "PUB04",
            edition.span,
            f"edition {ahead.code} begins {ahead.valid_from}, after {edition.code} "
            f"({edition.valid_from}), but was published before it: it lacks its changes",
            fixes=(Fix(f"publish {ahead.code} again, as {_next_code(ahead.code)}"),),
        )
        for ahead in ledger.editions
        if ahead.valid_from > edition.valid_from and drafts.is_draft
    ]
