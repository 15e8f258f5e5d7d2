"""All changes of a card in; those that do not merely follow from another of them, out.

A step that takes something else, or more of it, changes other texts of the card with it: "the
line stays 590 ml", how an add-on makes room. Said once, it is read once.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from buildsheets.compare.change import Change, What, numbers_of, same_but_for_numbers


def without_consequences(changes: Sequence[Change], poured: Collection[str]) -> list[Change]:
    """The changes without those that follow from a step that was swapped or changed.

    ``poured`` is what the card's steps add now: what is still among them was not swapped away.
    """
    swaps = (c.parts[0] for c in changes if c.what is What.STEP_SWAPPED and not c.where)
    names = {was: now for _, was, now in swaps if was not in poured}
    left = _swapped_items(changes, names)
    amounts = [
        (change.subject, numbers_of(was), numbers_of(now))
        for change in left
        if change.what is What.STEP_CHANGED and not change.where
        for field, was, now in change.parts
        if field in ("amount", "line")
    ]

    def follows(change: Change) -> bool:
        was, now = change.was, change.now
        if change.what in (What.TEXT, What.ROOM) and was and _renamed(was, names) == now:
            return True
        return change.what is What.TEXT and any(
            name in was and (numbers_of(was), numbers_of(now)) == (before, after)
            for name, before, after in amounts
        )

    return [change for change in left if not follows(change)]


def _swapped_items(changes: Sequence[Change], names: Mapping[str, str]) -> list[Change]:
    """An item that came where one of the thing swapped away went, as one changed text."""
    left: list[Change | None] = list(changes)
    for place, come in enumerate(changes):
        if come.what is not What.ADDED or come.now or not come.where:
            continue
        for gone_place, gone in enumerate(left):
            if gone is None or gone.what is not What.REMOVED or gone.where != come.where:
                continue
            renamed = _renamed(gone.subject, names)
            if renamed != gone.subject and same_but_for_numbers(renamed, come.subject):
                *where, name = come.where
                texts = gone.subject, come.subject
                left[place] = Change(What.TEXT, name, *texts, where=tuple(where))
                left[gone_place] = None
                break
    return [change for change in left if change]


def _renamed(text: str, names: Mapping[str, str]) -> str:
    for was, now in names.items():
        text = text.replace(was, now)
    return text
