"""Cards that differ and a language's words in; what is read first, allergens and cautions, out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from buildsheets.compare.change import ALLERGENS, CAUTIONS, Change, What, grouped
from buildsheets.compare.compare import CardChange, Comparison
from buildsheets.compare.sentences import DECLARED, sentence, small
from buildsheets.ledger.card_texts import name_of
from buildsheets.views.words import Words


def is_safety(change: Change, kind: str) -> bool:
    """Whether a card's change is told first: allergens, and the cautions of drinks and batches.

    Those of station cards are their drinks'.
    """
    return change.what in ALLERGENS or (change.what in CAUTIONS and kind in ("build", "batch"))


def new_name(card: CardChange, comparison: Comparison, words: Words) -> str:
    """A new card's name, said to be new; of a drink in another size before, that its size is."""
    before = {
        name_of(comparison.before.texts[entry.code])
        for entry in comparison.before.entries.values()
        if (entry.key.kind, entry.key.language) == (card.key.kind, card.key.language)
    }
    return words("is_new_size" if card.name in before else "is_new", name=card.name)


_Lines = dict[tuple[str, str], dict[str, None]]  # each text once, under a name and a second word


def safety(cards: Sequence[CardChange], comparison: Comparison, words: Words) -> tuple[str, ...]:
    """A line a drink or batch: its allergens and cautions, where they changed or it is new; then
    a line an add-on, with its drinks.

    What its own card says is not said again from the rows that station cards and the allergen
    sheet have of it.
    """
    own: _Lines = {}
    add_ons: _Lines = {}
    rows: _Lines = {}
    for card in cards:
        if not card.before:
            name = new_name(card, comparison, words)
            own.setdefault((name, card.size), {})[_brings(card, words)] = None
            continue
        for change in card.changes:
            if not is_safety(change, card.key.kind):
                continue
            if change.what is What.ADD_ON_ALLERGENS:
                text = sentence(change, words)
                add_ons.setdefault((change.subject, text), {})[card.name] = None
            elif change.drinks:
                text = small(sentence(replace(change, where=()), words))
                rows.setdefault((change.drinks[0], ""), {})[text] = None
            else:
                text = small(sentence(replace(change, where=change.where[-1:]), words))
                own.setdefault((card.name, card.size), {})[text] = None
    named = {name for name, _ in (*own, *add_ons)}
    return (
        *_by_size(own),
        *(
            words("add_on_with", change=text, drinks=", ".join(drinks))
            for (_, text), drinks in add_ons.items()
        ),
        *(f"{name}: {'; '.join(texts)}" for (name, _), texts in rows.items() if name not in named),
    )


def _by_size(lines: Mapping[tuple[str, str], Mapping[str, None]]) -> Iterator[str]:
    """A line a name, its sizes together where the same is said of them."""
    found = grouped(
        ((name, "; ".join(filter(None, texts))), size) for (name, size), texts in lines.items()
    )
    for (name, text), sizes in found.items():
        if text:
            yield f"{', '.join(filter(None, (name, *sizes)))}: {text}"


def _brings(card: CardChange, words: Words) -> str:
    """Allergens and cautions of a new card: "contains milk; may contain gluten"; of no allergen
    what the card says."""
    declared = {
        field: [change.now for change in card.changes if change.subject == field]
        for field in DECLARED
    }
    parts = [words(f"new_{f}", list=words.list(names)) for f, names in declared.items() if names]
    parts = parts or [c.now for c in card.changes if c.what is What.TEXT]
    parts += [sentence(c, words) for c in card.changes if c.what is What.ADD_ON_OFFERED]
    cautions = [c.subject for c in card.changes if c.what is What.CAUTION_ADDED]
    if cautions:
        parts.append(words("new_cautions", list=" · ".join(cautions)))
    return "; ".join(map(small, parts))
