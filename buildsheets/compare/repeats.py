"""All changes of a card in; those that no other of them says already, out.

A step that takes something else, or more of it, changes other texts of the card with it: "the
line stays 590 ml", how an add-on makes room. Told once, it is read once.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from buildsheets.compare.change import Change, What, numbers_of, same_but_for_numbers


def without_repeats(changes: Sequence[Change], poured: Collection[str]) -> list[Change]:
    """The changes without those that follow from a step that was swapped or changed.

    ``poured`` is what the card's steps add now: what is still among them was not swapped away.
    """
    swaps = (c.parts[0] for c in changes if c.what is What.STEP_SWAPPED and not c.where)
    names = {was: now for _, was, now in swaps if was not in poured}
    left = list(_one_for_two(changes, names))
    amounts = [
        (change.subject, numbers_of(was), numbers_of(now))
        for change in left
        if change.what is What.STEP_CHANGED and not change.where
        for field, was, now in change.parts
        if field in ("amount", "line")
    ]
    return [
        change
        for change in left
        if not _only_renamed(change, names) and not _repeats(change, amounts)
    ]


def _one_for_two(changes: Sequence[Change], names: dict[str, str]) -> Iterator[Change]:
    """An item that came where one of the thing swapped away went, as one changed text."""
    gone = [place for place, change in enumerate(changes) if change.what is What.REMOVED]
    become: dict[int, Change | None] = {}
    for place, come in enumerate(changes):
        if come.what is not What.ADDED or come.now:
            continue
        was = next((one for one in gone if _answers(changes[one], come, names)), None)
        if was is not None:
            gone.remove(was)
            become[was] = None
            *where, name = come.where
            become[place] = Change(
                What.TEXT, name, changes[was].subject, come.subject, where=tuple(where)
            )
    for place, change in enumerate(changes):
        told = become.get(place, change)
        if told is not None:
            yield told


def _answers(gone: Change, come: Change, names: dict[str, str]) -> bool:
    renamed = _renamed(gone.subject, names)
    return (
        bool(come.where)
        and gone.where == come.where
        and renamed != gone.subject
        and same_but_for_numbers(renamed, come.subject)
    )


def _only_renamed(change: Change, names: dict[str, str]) -> bool:
    """Whether a text only names the new thing for the old."""
    plain = change.what in (What.TEXT, What.ROOM)
    return plain and bool(change.was) and _renamed(change.was, names) == change.now


def _renamed(text: str, names: dict[str, str]) -> str:
    for was, now in names.items():
        text = text.replace(was, now)
    return text


def _repeats(change: Change, amounts: Sequence[tuple[str, list[str], list[str]]]) -> bool:
    """Whether a text names a step and changes by the same amounts."""
    return change.what is What.TEXT and any(
        name in change.was and [numbers_of(change.was), numbers_of(change.now)] == [was, now]
        for name, was, now in amounts
    )
