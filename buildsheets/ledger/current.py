"""A card code (and revision), the ledger and a day in; whether that card may still hang, out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from buildsheets.ledger.codes import BadCode, parse, suggestions
from buildsheets.ledger.ledger import Entry, Ledger, Published
from buildsheets.ledger.payload import identity_in


class State(StrEnum):
    """What to do with a card on the wall: leave it, replace it, take it down, or look it up."""

    CURRENT = "current"
    COMING = "coming"  # published ahead, its edition has not begun
    SUPERSEDED = "superseded"
    WITHDRAWN = "withdrawn"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Standing:
    """A card's standing on a day.

    ``now`` is the card to hang instead (or itself when current); ``label`` is what people call
    it, as last published. ``until`` is the last day of the edition in force. ``next_entry``
    replaces the card on ``next_from``, be it current or published ahead (both set when an edition
    already published changes it; ``next_entry`` alone ``None`` when it drops it). ``edition`` is
    the one that a card published ahead waits for. Without a ``revision`` nobody knows which of
    several is in hand.
    ``suggested`` are codes that an unknown one may stand for.
    """

    state: State
    code: str
    revision: int | None
    now: Entry | None = None
    label: str = ""
    until: date | None = None
    past_its_date: bool = False
    next_from: date | None = None
    next_entry: Entry | None = None
    edition: Published | None = None
    suggested: tuple[str, ...] = ()
    reason: str = ""

    @property
    def coming(self) -> Entry | None:
        """The card itself as the edition that it waits for has it."""
        return self.edition.by_code()[self.code] if self.edition else None


def current(text: str, book: Ledger, day: date) -> Standing:
    """The standing of the card that ``text`` names: a typed code with or without a revision
    ("B-7K3QF-9 r2"), a scanned address or a scanned offline text.

    Without a revision the code alone is judged: whether a card of it is still in use. A code that
    was only ever printed in one revision means that one.
    """
    printed = book.printed()
    known = {code for code, _ in printed}
    found = identity_in(text)
    if found is None:
        first = text.split()[0] if text.split() else ""
        try:
            parse(first)
            reason = ""
        except BadCode as error:
            reason = str(error)
        near = tuple(suggestions(first, known))
        return Standing(State.UNKNOWN, first, None, suggested=near, reason=reason)
    code, revision = found
    if code not in known or (revision is not None and (code, revision) not in printed):
        near = (code,) if code in known else tuple(suggestions(code, known))
        return Standing(State.UNKNOWN, code, revision, suggested=near)
    revisions = _revisions(code, book.editions)
    return standing(code, revisions.pop() if len(revisions) == 1 else revision, book, day)


def standing(code: str, revision: int | None, book: Ledger, day: date) -> Standing:
    """The standing of a published card on ``day``."""
    in_force = book.in_force(day)
    now = in_force.by_code().get(code) if in_force else None
    mine = book.printed().get((code, revision)) if revision is not None else now
    begun = _revisions(code, (e for e in book.editions if e.valid_from <= day))
    only_ahead = _revisions(code, (e for e in book.editions if e.valid_from > day)) - begun
    if now is not None and (mine is None or mine.digest == now.digest):
        state = State.CURRENT  # an older revision that says the same is as good
    elif revision in only_ahead or (revision is None and only_ahead):
        state = State.COMING
    else:
        state = State.SUPERSEDED if now is not None else State.WITHDRAWN
    waits_for = _waits_for(code, revision, book, day) if state is State.COMING else None
    hung = waits_for.by_code()[code] if waits_for else now
    coming = book.coming(waits_for.valid_from if waits_for else day)
    following = coming.by_code().get(code) if coming else None
    changes = hung is not None and (following is None or following.digest != hung.digest)
    named = [entry for entry in book.printed().values() if entry.code == code]
    return Standing(
        state,
        code,
        revision,
        now,
        label=(now or named[-1]).label if now or named else "",
        until=in_force.valid_to if in_force else None,
        past_its_date=bool(in_force and in_force.valid_to < day),
        next_from=coming.valid_from if coming and changes else None,
        next_entry=following if coming and changes else None,
        edition=waits_for,
    )


def _waits_for(code: str, revision: int | None, book: Ledger, day: date) -> Published | None:
    """The first edition after ``day`` that the card is in."""
    ahead = [
        edition
        for edition in book.editions
        if edition.valid_from > day
        for entry in edition.entries
        if entry.code == code and revision in (None, entry.revision)
    ]
    return min(ahead, key=lambda edition: (edition.valid_from, -edition.number), default=None)


def _revisions(code: str, editions: Iterable[Published]) -> set[int]:
    return {e.revision for edition in editions for e in edition.entries if e.code == code}
