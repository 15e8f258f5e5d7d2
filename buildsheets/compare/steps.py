"""The steps of a card as they were and as they are in; the steps that changed, out."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import SequenceMatcher

from buildsheets.compare.change import Change, Changes, What, Where, joined
from buildsheets.ledger.card_texts import CardTexts, Items

_FIELDS = ("amount", "line", "tool", "setting", "note", "station", "vessel", "swaps")


def step_changes(old: Items, new: Items, where: Where) -> Changes:
    """Steps are matched by what they add; one that left its order and is still there moved, and
    one that stands in another's place between the same neighbours took its place."""
    names_before, names_after = [s.get("what", "") for s in old], [s.get("what", "") for s in new]
    stayed: list[tuple[int, int]] = []
    replaced_by: dict[int, int] = {}  # places after, by those before
    left: list[int] = []
    come: list[int] = []
    matcher = SequenceMatcher(None, names_before, names_after, autojunk=False)
    for tag, a, a_end, b, b_end in matcher.get_opcodes():
        if tag == "equal":
            stayed += zip(range(a, a_end), range(b, b_end), strict=True)
            continue
        left += range(a, a_end)
        come += range(b, b_end)
        alone = a_end - a == b_end - b == 1
        free = list(range(b, b_end))
        for place in range(a, a_end):  # of several, like for like: pumps for pumps
            unit = old[place].get("unit")
            like = next((p for p in free if alone or new[p].get("unit") == unit), None)
            if like is not None:
                replaced_by[place] = like
                free.remove(like)
    for place in list(come):
        name = names_after[place]
        same = next((p for p in left if names_before[p] == name), None)
        if same is not None:
            left.remove(same)
            come.remove(place)
            stayed.append((same, place))
            yield Change(What.STEP_MOVED, name, str(same + 1), str(place + 1), where=where)
    for place in left:
        if replaced_by.get(place) in come:
            come.remove(replaced_by[place])
            yield _swapped(old[place], new[replaced_by[place]], where)
        else:
            yield Change(What.STEP_REMOVED, names_before[place], step_text(old[place]), where=where)
    for place in come:
        yield Change(What.STEP_ADDED, names_after[place], now=step_text(new[place]), where=where)
    for a, b in sorted(stayed, key=lambda places: places[1]):
        was, now = old[a], new[b]
        if parts := _differing(was, now, _FIELDS):
            texts = step_text(was), step_text(now)
            yield Change(What.STEP_CHANGED, names_after[b], *texts, parts, where)


def _swapped(was: CardTexts, now: CardTexts, where: Where) -> Change:
    """What was added is named alone where the rest of the step stayed the same."""
    names = str(was.get("what", "")), str(now.get("what", ""))
    same = step_text({**was, "what": ""}) == step_text({**now, "what": ""})
    text = names[0] if same else step_text(was)
    parts = (("what", *names), *_differing(was, now, ("tool", "station", "vessel")))
    return Change(What.STEP_SWAPPED, names[1], text, step_text(now), parts, where)


def _differing(
    was: CardTexts, now: CardTexts, fields: Sequence[str]
) -> tuple[tuple[str, str, str], ...]:
    texts = ((f, *(_field_text(step, f) for step in (was, now))) for f in fields)
    return tuple((field, a, b) for field, a, b in texts if a != b)


def _field_text(step: CardTexts, field: str) -> str:
    if field == "swaps":
        return " / ".join(joined(amount_of(one), str(one["name"])) for one in step.get(field, ()))
    return amount_of(step) if field == "amount" else str(step.get(field, ""))


def amount_of(part: CardTexts) -> str:
    """The amount with its unit."""
    return " ".join(filter(None, (part.get("amount", ""), part.get("unit", ""))))


def step_text(step: CardTexts) -> str:
    """A step in one line: "Black tea 120 ml, to 250 ml"."""
    first = " ".join(filter(None, (step.get("what", ""), amount_of(step))))
    return joined(first, *(step.get(f, "") for f in ("line", "setting", "note")))
