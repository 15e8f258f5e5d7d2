"""A comparison and a language's words in; lines as a shop would say them, and JSON, out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from buildsheets.cards.words import Words
from buildsheets.editions.changes import Change, What, same_but_for_numbers
from buildsheets.editions.compare import CardChange, Comparison, Side
from buildsheets.editions.ledger import Published

_ALLERGENS = (What.ALLERGEN_ADDED, What.ALLERGEN_REMOVED)
_DECLARED = ("contains", "may_contain")
KINDS = ("build", "station", "addons", "gauge", "batch", "allergens")
"""Kinds of card in the order in which their changes are told."""


@dataclass(frozen=True, slots=True)
class Group:
    """A heading and its lines: a drink and its changes by size, a station and its cards."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Section:
    """All that is told of one kind of card."""

    title: str
    groups: tuple[Group, ...]


@dataclass(frozen=True, slots=True)
class Told:
    """A comparison in words: allergens first, then what came and went, then each kind of card;
    last what to hang up and take down, station by station."""

    title: str
    allergens: tuple[str, ...]
    new: tuple[str, ...]
    withdrawn: tuple[str, ...]
    changed: tuple[Section, ...]
    wall_title: str
    wall: tuple[Group, ...]


def tell(comparison: Comparison, words: Words) -> Told:
    """The comparison in words, told once: from the cards in the words' language if any are."""
    cards = _in_language(comparison.cards, words.language)
    changed = [card for card in cards if card.before and card.after]
    begins = comparison.after.valid_from
    same = comparison.before.code == comparison.after.code  # the menu goes by the code it had
    counts = {"up": len(comparison.reprint), "down": len(comparison.pull)}
    return Told(
        title=words(
            "changes_title",
            before=edition_name(comparison.before, words.language),
            after=words("changes_now") if same else edition_name(comparison.after, words.language),
        ),
        allergens=_allergens(changed, words),
        new=_names((card for card in cards if not card.before), words),
        withdrawn=_names((card for card in cards if not card.after), words),
        changed=_sections(changed, words),
        wall_title=words("changes_wall", **counts, day=words.date(begins) if begins else ""),
        wall=_wall(comparison, words),
    )


def edition_name(side: Side | Published, language: str) -> str:
    """An edition's code and name: "W26 (Winter 2026)"."""
    name = side.names.get(language) or side.names.get("") or next(iter(side.names.values()), "")
    return f"{side.code} ({name})" if name and name != side.code else side.code


def as_text(told: Told, words: Words) -> str:
    """The comparison as a text for a terminal or a message to the team."""
    lines = [told.title, ""]
    lists = (
        ("changes_allergens", told.allergens),
        ("changes_new", told.new),
        ("changes_withdrawn", told.withdrawn),
    )
    for key, names in lists:
        if names:
            lines += [words(key), *_indented(names), ""]
    for section in told.changed:
        lines += [section.title, *_indented(section.groups), ""]
    if told.wall:
        lines += [told.wall_title, *_indented(told.wall), ""]
    else:
        lines.append(words("changes_none"))
    return "\n".join(lines).rstrip() + "\n"


def as_json(comparison: Comparison, words: Words) -> dict[str, Any]:
    """The comparison as plain data; every change has its ``text`` in the words' language."""
    return {
        "from": comparison.before.code,
        "to": comparison.after.code,
        "cards": [_card_json(card, words) for card in comparison.cards],
        "reprint": _codes_by_station(comparison.reprint, after=True),
        "pull": _codes_by_station(comparison.pull, after=False),
    }


def change_text(change: Change, words: Words) -> str:
    """One change as a shop would say it: "Black tea to 480 ml, was 500"."""
    place = [name for name in (_field(part, words) for part in change.where) if name]
    text = ": ".join((*place, _said(change, words)))
    return _capital(text)


def _said(change: Change, words: Words) -> str:
    match change.what:
        case What.ALLERGEN_ADDED | What.ALLERGEN_REMOVED if change.subject not in _DECLARED:
            return _changed(_field(change.subject, words), change.was, change.now, words)
        case What.ALLERGEN_ADDED:
            return words(f"now_{change.subject}", allergen=change.now)
        case What.ALLERGEN_REMOVED:
            return words(f"gone_{change.subject}", allergen=change.was)
        case What.STEP_ADDED:
            return words("step_added", step=change.now)
        case What.STEP_REMOVED:
            return words("step_removed", step=change.was)
        case What.STEP_MOVED:
            return words("step_moved", step=change.subject, was=change.was, now=change.now)
        case What.STEP_CHANGED:
            return f"{change.subject} " + "; ".join(_step_parts(change, words))
        case What.ADDED | What.CAUTION_ADDED:
            more = f" ({change.now})" if change.now else ""
            return words("added", what=_field(change.subject, words) + more)
        case What.REMOVED | What.CAUTION_REMOVED:
            return words("removed", what=_field(change.subject, words))
        case What.ORDER:
            name = _field(change.subject, words)
            return f"{name} {words('order_changed', now=change.now)}".strip()
        case What.LOOK:
            return words("look_changed")
        case _:
            return _changed(_field(change.subject, words), change.was, change.now, words)


def _step_parts(change: Change, words: Words) -> Iterator[str]:
    for field, was, now in change.parts:
        plain = field in ("amount", "line")  # these say themselves what they are
        yield _changed("" if plain else _field(field, words), was, now, words)


def _changed(name: str, was: str, now: str, words: Words) -> str:
    if not was:
        text = words("text_added", now=now)
    elif not now:
        text = words("text_removed", was=was)
    else:
        short = without_common(was, now) if same_but_for_numbers(was, now) else was
        text = words("text_changed", now=now, was=short)
    return f"{name} {text}" if name else text


def without_common(was: str, now: str) -> str:
    """The stretch of ``was`` that differs: "500" of "to 500 ml" beside "to 480 ml"."""
    old, new = was.split(), now.split()
    start = end = 0
    while start < min(len(old), len(new)) and old[start] == new[start]:
        start += 1
    while end < min(len(old), len(new)) - start and old[-1 - end] == new[-1 - end]:
        end += 1
    return " ".join(old[start : len(old) - end]) or was


def _field(name: str, words: Words) -> str:
    key = f"field_{name}"
    return words(key) if key in words.catalogue else name.replace("_", " ")


def _sized(cards: Iterable[tuple[CardChange, str]]) -> tuple[str, ...]:
    """Lines of single sizes; sizes of which the same is said share a line."""
    sizes: dict[str, list[str]] = {}
    for card, text in cards:
        named = sizes.setdefault(text, [])
        if card.size and card.size not in named:
            named.append(card.size)
    return tuple(f"{', '.join(named)}: {text}" if named else text for text, named in sizes.items())


def _sections(changed: Sequence[CardChange], words: Words) -> tuple[Section, ...]:
    """Changes by kind of card, then by its name."""
    found = []
    for kind in KINDS:
        named: dict[str, list[tuple[CardChange, str]]] = {}
        for card in changed:
            if card.key.kind == kind:
                named.setdefault(card.name, []).extend(
                    (card, change_text(change, words))
                    for change in _together(card.changes)
                    if change.what not in _ALLERGENS
                )
        groups = tuple(Group(name, _sized(said)) for name, said in named.items() if said)
        if groups:
            title = words("changes_changed", kind=words(f"kind_{kind}"))
            found.append(Section(title, groups))
    return tuple(found)


def _together(changes: Sequence[Change]) -> list[Change]:
    """Items that came to one place, or went from it, as one change."""
    found: dict[object, Change] = {}
    for place, change in enumerate(changes):
        alike = change.what in (What.ADDED, What.REMOVED) and not change.now
        key = (change.what, change.where) if alike else place
        known = found.get(key)
        subject = f"{known.subject}, {change.subject}" if known else change.subject
        found[key] = replace(change, subject=subject)
    return list(found.values())


def _allergens(changed: Sequence[CardChange], words: Words) -> tuple[str, ...]:
    """A line a drink or batch. What its own card says is not said again from the rows that
    station cards and the allergen sheet have of it."""
    own: dict[tuple[str, str], list[str]] = {}
    rows: dict[str, list[str]] = {}
    for card in changed:
        for change in card.changes:
            if change.what not in _ALLERGENS:
                continue
            if not change.where:
                own.setdefault((card.name, card.size), []).append(change_text(change, words))
            else:
                first, *others = change.where
                text = change_text(replace(change, where=tuple(others)), words)
                rows.setdefault(_field(first, words), []).append(_small(text))
    lines: dict[tuple[str, str], list[str]] = {}
    for (name, size), texts in own.items():
        lines.setdefault((name, "; ".join(map(_small, texts))), []).append(size)
    found = [
        f"{', '.join(filter(None, (name, *sizes)))}: {text}"
        for (name, text), sizes in lines.items()
    ]
    told = {name for name, _ in own}
    found += [
        f"{name}: {'; '.join(dict.fromkeys(texts))}"
        for name, texts in rows.items()
        if name not in told
    ]
    return tuple(found)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _small(text: str) -> str:
    return text[:1].lower() + text[1:]


def _names(cards: Iterable[CardChange], words: Words) -> tuple[str, ...]:
    """Each drink or other card once, with its sizes and, where it is new, its allergens."""
    sizes: dict[tuple[str, str], list[str]] = {}
    for card in cards:
        name = card.name
        if card.key.kind != "build":
            name = f"{_capital(words(f'kind_{card.key.kind}'))}: {card.name}"
        sizes.setdefault((name, _brings(card, words)), []).append(card.size)
    return tuple(
        ", ".join(filter(None, (name, *named))) + (f": {brings}" if brings else "")
        for (name, brings), named in sizes.items()
    )


def _brings(card: CardChange, words: Words) -> str:
    """The allergens of a new card: "contains milk; may contain gluten", or what is said of none."""
    parts = [
        words(f"new_{field}", list=words.list([c.now for c in card.changes if c.subject == field]))
        for field in _DECLARED
        if any(c.subject == field for c in card.changes)
    ]
    return "; ".join(parts or [c.now for c in card.changes])


def _wall(comparison: Comparison, words: Words) -> tuple[Group, ...]:
    """What to hang up and take down: station by station, then cards that hang elsewhere, once."""
    lines: dict[tuple[int, str], list[str]] = {}
    spoken_first = sorted(comparison.cards, key=lambda card: card.key.language != words.language)
    for card in spoken_first:
        place = _capital(words(f"kind_{card.key.kind}"))
        if station := card.key.kind == "station":
            spoken = comparison.stations.get((card.key.subject, words.language), card.name)
            place = f"{_capital(words('field_station'))} {spoken}"
        order = 0 if station else KINDS.index(card.key.kind) + 1
        lines.setdefault((order, place), []).append(_wall_line(card, words))
    return tuple(Group(place, tuple(found)) for (_, place), found in sorted(lines.items()))


def _wall_line(card: CardChange, words: Words) -> str:
    """ "B-7K3QF-9  Lantern milk tea, Large: hang up revision 2, take down revision 1"."""
    up, down = (
        words("revision", number=side.revision) if side else ""
        for side in (card.after, card.before)
    )
    key = "wall_swap" if up and down else "wall_up" if up else "wall_down"
    where = "" if card.key.kind == "station" else ", ".join(card.stations)
    language = f" [{card.key.language}]" if card.key.language != words.language else ""
    return f"{card.entry.code}  {_label(card)}{language}: {words(key, up=up, down=down)}" + (
        f" ({where})" if where else ""
    )


def _codes_by_station(cards: Sequence[CardChange], after: bool) -> dict[str, list[dict[str, Any]]]:
    """Each card once for every station it hangs at; ``after`` says which of its two prints."""
    found: dict[str, list[dict[str, Any]]] = {}
    for card in cards:
        entry = card.after if after else card.before
        assert entry is not None
        for station in card.stations or ("",):
            found.setdefault(station, []).append({"code": entry.code, "revision": entry.revision})
    return dict(sorted(found.items()))


def _card_json(card: CardChange, words: Words) -> dict[str, Any]:
    key = card.key
    return {
        "status": "new" if not card.before else "changed" if card.after else "withdrawn",
        "code": card.entry.code,
        "was_revision": card.before.revision if card.before else None,
        "revision": card.after.revision if card.after else None,
        "kind": key.kind,
        "subject": key.subject,
        "cup": key.cup,
        "language": key.language,
        "name": card.name,
        "size": card.size,
        "stations": list(card.stations),
        "changes": [
            {**asdict(change), "text": change_text(change, words)} for change in card.changes
        ],
    }


def _in_language(cards: Sequence[CardChange], language: str) -> list[CardChange]:
    return [card for card in cards if card.key.language == language] or list(cards)


def _label(card: CardChange) -> str:
    return ", ".join(filter(None, (card.name, card.size)))


def _indented(part: Sequence[str | Group]) -> Iterator[str]:
    for item in part:
        if isinstance(item, str):
            yield f"  {item}"
        else:
            yield f"  {item.title}"
            yield from (f"    {line}" for line in item.lines)
