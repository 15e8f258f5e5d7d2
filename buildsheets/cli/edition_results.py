"""What was checked, printed, published or compared goes in; the records that the JSON of these
commands tells come out, with their keys.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from buildsheets.cli import fixing
from buildsheets.cli.plain_data import KEYS
from buildsheets.cli.prep_results import order_keys
from buildsheets.compare.change import Change, grouped
from buildsheets.compare.compare import CardChange, Comparison
from buildsheets.compare.sentences import sentence
from buildsheets.cup.serving import Serving
from buildsheets.ledger.current import Standing
from buildsheets.ledger.ledger import Entry
from buildsheets.ledger.publish import EditionCard
from buildsheets.views.words import Words


@dataclass(frozen=True, slots=True)
class Checked:
    """Every drink in every cup as it is made when nobody asks for more, and the fixes written."""

    builds: tuple[Fitted, ...]
    fixes: tuple[fixing.Change, ...]


@dataclass(frozen=True, slots=True)
class Fitted:
    """Whether a drink fits its cup, and the room it leaves."""

    serving: Serving


KEYS[Fitted] = (
    f"{order_keys('serving.')} verdict=serving.verdict over_ml=serving.over_ml "
    "held_back_ml=serving.held_back_ml room_ml=serving.final.room_ml"
)


@dataclass(frozen=True, slots=True)
class Printed:
    """A print run: its folder, and the files in it by their paths there."""

    edition: str
    folder: str
    files: tuple[str, ...]
    cards: tuple[EditionCard, ...]
    pages: int
    rendered_cards: int


@dataclass(frozen=True, slots=True)
class Verified:
    """Printed folders, each with whether its files are as they were printed."""

    as_printed: Mapping[str, bool]


AnyPrint = Printed | Verified


@dataclass(frozen=True, slots=True)
class Proofed:
    """What was looked at."""

    path: str


KEYS[EditionCard] = (
    "code=entry.code kind=entry.key.kind subject=entry.key.subject cup_or_scale=entry.key.cup "
    "language=entry.key.language revision=entry.revision draft"
)


@dataclass(frozen=True, slots=True)
class Compared:
    """What differs between two editions, card by card, and what to hang up and take down where."""

    before: str
    after: str
    cards: tuple[ComparedCard, ...]
    hang: Mapping[str, tuple[Entry, ...]]
    take_down: Mapping[str, tuple[Entry, ...]]


KEYS[Compared] = "from=before to=after cards hang_by_station=hang take_down_by_station=take_down"
KEYS[Entry] = "code revision"


@dataclass(frozen=True, slots=True)
class ComparedCard:
    """A card that differs; ``stations`` are those it hangs at."""

    card: CardChange
    stations: tuple[str, ...]
    changes: tuple[Said, ...]

    @property
    def status(self) -> Literal["new", "changed", "withdrawn"]:
        if not self.card.before:
            return "new"
        return "changed" if self.card.after else "withdrawn"


KEYS[ComparedCard] = (
    "status code=card.entry.code was_revision=card.before.revision revision=card.after.revision "
    "kind=card.key.kind subject=card.key.subject cup_or_scale=card.key.cup "
    "language=card.key.language name=card.name size=card.size stations changes"
)


@dataclass(frozen=True, slots=True)
class Said:
    """A change as the cards print it, and the sentence that tells it."""

    change: Change
    text: str


KEYS[Said] = (
    "what=change.what subject=change.subject was=change.was now=change.now parts=change.parts "
    "where=change.where drinks=change.drinks text"
)


def compared(comparison: Comparison, words: Words) -> Compared:
    """A comparison, with its sentences in the words' language."""
    ids = {(name, spoken): id_ for (id_, spoken), name in comparison.stations.items()}

    def stations(card: CardChange) -> tuple[str, ...]:
        return tuple(ids.get((name, card.key.language), name) for name in card.stations)

    def by_station(
        entries: Iterable[tuple[CardChange, Entry | None]],
    ) -> Mapping[str, tuple[Entry, ...]]:
        found = grouped(
            (station, entry)
            for card, entry in entries
            if entry
            for station in stations(card) or ("",)
        )
        return {station: tuple(found[station]) for station in sorted(found)}

    return Compared(
        comparison.before.code,
        comparison.after.code,
        tuple(
            ComparedCard(
                card, stations(card), tuple(Said(one, sentence(one, words)) for one in card.changes)
            )
            for card in comparison.cards
        ),
        by_station((card, card.after) for card in comparison.cards),
        by_station((card, card.before) for card in comparison.cards),
    )


@dataclass(frozen=True, slots=True)
class Published:
    """An edition in the ledger, and what it changes."""

    edition: str
    file: str
    cards: int
    changes: Compared


@dataclass(frozen=True, slots=True)
class CardsCurrent:
    """How each card stands on a day."""

    day: date
    cards: tuple[CardCurrent, ...]


@dataclass(frozen=True, slots=True)
class CardCurrent:
    """How a card stands, and what is on it but not sold on that day."""

    standing: Standing
    not_sold: tuple[str, ...]


KEYS[CardCurrent] = (
    "code=standing.code revision=standing.revision state=standing.state "
    "now_revision=standing.now.revision label=standing.label until=standing.until "
    "past_its_date=standing.past_its_date changes_on=standing.next_from "
    "then_revision=standing.next_entry.revision suggested=standing.suggested "
    "reason=standing.reason not_sold"
)


@dataclass(frozen=True, slots=True)
class Site:
    """Phone pages: how many cards they show, the files by their paths in the output folder, and how
    many practice questions are on them."""

    cards: int
    files: tuple[str, ...]
    practice_questions: int = 0
