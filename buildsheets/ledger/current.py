"""A card code (and revision), the ledger and a day in; whether that card may still hang, out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from buildsheets.findings.spelling import shortened
from buildsheets.ledger.codes import BadCode, parse, suggestions
from buildsheets.ledger.ledger import Entry, Ledger, PublishedEdition, next_of
from buildsheets.ledger.payload import identity_in
from buildsheets.views.words import Words


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
    the one that a card published ahead waits for, ``coming`` the card as that edition has it.
    Without a ``revision`` nobody knows which of several is in hand.
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
    edition: PublishedEdition | None = None
    coming: Entry | None = None
    suggested: tuple[str, ...] = ()
    reason: str = ""


def current(text: str, ledger: Ledger, day: date) -> Standing:
    """The standing of the card that ``text`` names: a typed code with or without a revision
    ("B-7K3QF-9 r2"), a scanned address or a scanned offline text.

    Without a revision the code alone is judged: whether a card of it is still in use. A code that
    was only ever printed in one revision means that one.
    """
    printed = ledger.printed()
    known = {code for code, _ in printed}
    found = identity_in(text)
    if found is None:
        code, reason = next(iter(text.split()), ""), ""
        try:
            parse(code)
        except BadCode as error:
            reason = str(error)
        near = tuple(suggestions(code, known))
        return Standing(State.UNKNOWN, shortened(code), None, suggested=near, reason=reason)
    code, revision = found
    if code not in known or (revision is not None and found not in printed):
        near = (code,) if code in known else tuple(suggestions(code, known))
        return Standing(State.UNKNOWN, code, revision, suggested=near)
    revisions = _revisions(code, ledger.editions)
    return standing(code, revisions.pop() if len(revisions) == 1 else revision, ledger, day)


def standing(code: str, revision: int | None, ledger: Ledger, day: date) -> Standing:
    """The standing of a published card on ``day``."""
    in_force = ledger.in_force(day)
    now = in_force.by_code().get(code) if in_force else None
    printed = ledger.printed()
    mine = printed.get((code, revision)) if revision is not None else now
    ahead = [edition for edition in ledger.editions if edition.valid_from > day]
    begun = [edition for edition in ledger.editions if edition.valid_from <= day]
    only_ahead = _revisions(code, ahead) - _revisions(code, begun)
    waits_for = None
    if now is not None and (mine is None or mine.digest == now.digest):
        state = State.CURRENT  # an older revision that says the same is as good
    elif revision in only_ahead or (revision is None and only_ahead):
        state = State.COMING
        waits_for = next_of(
            edition
            for edition in ahead
            if (found := _revisions(code, [edition])) and (revision is None or revision in found)
        )
    else:
        state = State.SUPERSEDED if now is not None else State.WITHDRAWN
    coming = waits_for.by_code()[code] if waits_for else None
    begins = waits_for.valid_from if waits_for else day
    following = next_of(edition for edition in ahead if edition.valid_from > begins)
    then = following.by_code().get(code) if following else None
    on_wall = coming or now
    changes = following and on_wall and (then is None or then.digest != on_wall.digest)
    known = [entry for entry in printed.values() if entry.code == code]
    return Standing(
        state,
        code,
        revision,
        now,
        label=now.label if now else known[-1].label if known else "",
        until=in_force.valid_to if in_force else None,
        past_its_date=bool(in_force and in_force.valid_to < day),
        next_from=following.valid_from if following and changes else None,
        next_entry=then if changes else None,
        edition=waits_for,
        coming=coming,
    )


def what_follows(standing: Standing, words: Words) -> str:
    """When the card is replaced and by which revision, or that it then leaves; "" for neither."""
    if standing.next_from is None:
        return ""
    day, then = words.date(standing.next_from), standing.next_entry
    if then is None:
        return words("is_next_gone", day=day)
    return words("is_next", day=day, revision=words("revision", number=then.revision))


def _revisions(code: str, editions: Iterable[PublishedEdition]) -> set[int]:
    return {e.revision for edition in editions for e in edition.entries if e.code == code}
