"""A comparison and a language's words in; what to hang up and take down, place by place, out."""

from __future__ import annotations

from dataclasses import dataclass, replace

from buildsheets.compare.change import Change, joined
from buildsheets.compare.compare import CardChange, Comparison
from buildsheets.compare.sentences import capital, edition_name, field_name, name_in
from buildsheets.ledger.ledger import Entry
from buildsheets.views.words import Words

_PLACES = ("station", "build", "addons", "gauge", "batch", "allergens", "words")


@dataclass(frozen=True, slots=True)
class Group:
    """A heading and its lines: a drink and its changes by size, a station and its cards."""

    title: str
    lines: tuple[str, ...]


def wall_title(comparison: Comparison, words: Words) -> str:
    """From when, how many to hang up and how many to take down."""
    begins, up, down = comparison.after.valid_from, comparison.reprint, comparison.pull
    day = words.date(begins) if begins else ""
    return words("changes_wall", day=day, up=len(up), down=len(down))


def wall_notes(comparison: Comparison, words: Words) -> tuple[str, ...]:
    """What to know besides: that all else stays, and how old and new are told apart."""
    after, language, notes = comparison.after, words.language, []
    if comparison.stay:
        edition = edition_name(after, language)
        notes.append(words("wall_stay", count=comparison.stay, edition=edition))
    own = all(card.entry.since == after.code for card in comparison.reprint)
    if after.valid_from and comparison.reprint and own:
        begins = words.date(after.valid_from)
        foot = words("foot_edition", name=name_in(after, language), day=begins)
        notes.append(words("wall_foot", foot=foot))
    if any(card.before and card.before.parts != 1 for card in comparison.pull):
        notes.append(words("wall_several"))
    return tuple(notes)


def wall(comparison: Comparison, words: Words) -> tuple[Group, ...]:
    """Station by station, then cards that hang elsewhere; each card once, and the same card in
    several languages one under the other."""
    lines: dict[tuple[int, str], list[tuple[str, bool, str]]] = {}
    for card in comparison.cards:
        kind = card.key.kind
        place = capital(words("wall_build" if kind == "build" else f"kind_{kind}"))
        if kind == "station":
            name = comparison.stations.get((card.key.subject, words.language), card.name)
            place = f"{capital(field_name('station', words))} {name}"
        foreign = card.key.language != words.language
        label = comparison.labels.get(replace(card.key, language=words.language), _label(card))
        line = _wall_line(card, label, words)
        lines.setdefault((_PLACES.index(kind), place), []).append((label, foreign, line))
    return tuple(
        Group(place, tuple(line for *_, line in sorted(found)))
        for (_, place), found in sorted(lines.items())
    )


def _wall_line(card: CardChange, label: str, words: Words) -> str:
    """ "B-7K3QF-9  Lantern milk tea, Large: revision 2 for revision 1"."""
    sides = (card.after, card.before)
    several = any(side is not None and side.parts > 1 for side in sides)
    up, down = (_revision(side, words, several) for side in sides)
    swap = "wall_swap_parts" if several else "wall_swap"
    line = words(swap if up and down else "wall_up" if up else "wall_down", up=up, down=down)
    if card.changes and all(map(of_portions, card.changes)):
        line = words("wall_portions", line=line)
    if card.before and card.after and card.before.label != card.after.label:
        line = words("wall_was", line=line, was=card.before.label)
    if card.key.language != words.language:
        own = _label(card)
        label += f" [{card.key.language}]" if own == label else f" [{card.key.language}: {own}]"
    elif card.key.kind == "build" and card.stations:
        line += f" ({', '.join(card.stations)})"
    return f"{card.entry.code}  {label}: {line}"


def _revision(entry: Entry | None, words: Words, several: bool) -> str:
    """ "revision 2"; where either card is printed on several, "revision 2 (3 parts)"."""
    if entry is None:
        return ""
    revision = words("revision", number=entry.revision)
    parts = {0: "wall_all_parts", 1: "wall_one_part"}.get(entry.parts, "wall_parts")
    return f"{revision} ({words(parts, count=entry.parts)})" if several else revision


def of_portions(change: Change) -> bool:
    """Whether it is of a batch's tables of portions and scales: they follow from the drinks, or
    from what is weighed out."""
    return change.where[:1] in (("portions",), ("scaling",))


def _label(card: CardChange) -> str:
    return joined(card.name, card.size)
