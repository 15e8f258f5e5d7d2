"""Cards that differ and a language's words in; what is told first, allergens and cautions, out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from buildsheets.compare.change import ALLERGENS, CAUTIONS, Change, What
from buildsheets.compare.compare import CardChange, Comparison
from buildsheets.compare.wording import DECLARED, change_text, small
from buildsheets.ledger.said import name_of
from buildsheets.views.words import Words


def is_safety(change: Change, kind: str) -> bool:
    """Whether a card's change is told first: allergens, and the cautions of drinks and batches.

    Those of station cards are their drinks'.
    """
    return change.what in ALLERGENS or (change.what in CAUTIONS and kind in ("build", "batch"))


def new_name(card: CardChange, comparison: Comparison, words: Words) -> str:
    """A new card's name, said to be new; of a drink in another size before, that its size is."""
    before = {
        name_of(comparison.before.says[entry.code])
        for entry in comparison.before.entries.values()
        if (entry.key.kind, entry.key.language) == (card.key.kind, card.key.language)
    }
    return words("is_new_size" if card.name in before else "is_new", name=card.name)


def safety(cards: Sequence[CardChange], comparison: Comparison, words: Words) -> tuple[str, ...]:
    """A line a drink or batch: its allergens and cautions, where they changed or it is new; then
    a line an add-on, with its drinks.

    What its own card says is not said again from the rows that station cards and the allergen
    sheet have of it.
    """
    own, add_ons, rows = _Lines(), _Lines(), _Lines()
    for card in cards:
        if not card.before:
            own.enter((new_name(card, comparison, words), card.size), _brings(card, words))
            continue
        for change in card.changes:
            if not is_safety(change, card.key.kind):
                continue
            if change.what is What.ADD_ON_ALLERGENS:
                add_ons.enter((change.subject, change_text(change, words)), card.name)
            elif change.drinks:
                text = change_text(replace(change, where=()), words)
                rows.enter((change.drinks[0], ""), small(text))
            else:
                text = change_text(replace(change, where=change.where[-1:]), words)
                own.enter((card.name, card.size), small(text))
    told = {name for name, _ in (*own.held, *add_ons.held)}
    return (
        *own.by_size(),
        *(
            words("add_on_with", change=text, drinks=", ".join(drinks))
            for (_, text), drinks in add_ons.held.items()
        ),
        *(f"{name}: {'; '.join(texts)}" for (name, _), texts in rows.held.items()
          if name not in told),
    )  # fmt: skip


class _Lines:
    """Texts under a name and a second word, each once."""

    def __init__(self) -> None:
        self.held: dict[tuple[str, str], list[str]] = {}

    def enter(self, under: tuple[str, str], text: str) -> None:
        texts = self.held.setdefault(under, [])
        if text and text not in texts:
            texts.append(text)

    def by_size(self) -> Iterator[str]:
        """A line a name, its sizes together where the same is said of them."""
        lines: dict[tuple[str, str], list[str]] = {}
        for (name, size), texts in self.held.items():
            if texts:
                lines.setdefault((name, "; ".join(texts)), []).append(size)
        for (name, text), sizes in lines.items():
            yield f"{', '.join(filter(None, (name, *sizes)))}: {text}"


def _brings(card: CardChange, words: Words) -> str:
    """Allergens and cautions of a new card: "contains milk; may contain gluten"; of no allergen
    what the card says."""
    parts = [
        words(f"new_{field}", list=words.list([c.now for c in card.changes if c.subject == field]))
        for field in DECLARED
        if any(c.subject == field for c in card.changes)
    ]
    parts = parts or [c.now for c in card.changes if c.what is What.TEXT]
    parts += [change_text(c, words) for c in card.changes if c.what is What.ADD_ON_OFFERED]
    cautions = [c.subject for c in card.changes if c.what is What.CAUTION_ADDED]
    if cautions:
        parts.append(words("new_cautions", list=" · ".join(cautions)))
    return "; ".join(map(small, parts))
