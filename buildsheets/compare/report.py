"""A comparison and a language's words in; a report as a shop would say it, as text or JSON, out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from buildsheets.compare.change import grouped, joined
from buildsheets.compare.compare import CardChange, Comparison
from buildsheets.compare.sections import KINDS, Section, safety, sections
from buildsheets.compare.sentences import capital, edition_name
from buildsheets.compare.wall import Group, wall, wall_notes, wall_title
from buildsheets.views.words import Words


@dataclass(frozen=True, slots=True)
class Report:
    """A comparison in words: allergens and cautions first, then what came and went, then each kind
    of card; last what to hang up and take down, station by station."""

    title: str
    begins: str
    safety: tuple[str, ...]
    new: tuple[str, ...]
    withdrawn: tuple[str, ...]
    changed: tuple[Section, ...]
    wall_title: str
    wall_notes: tuple[str, ...]
    wall: tuple[Group, ...]


def report_of(comparison: Comparison, words: Words) -> Report:
    """The comparison in words, said once: from the cards in the words' language if any are."""
    before, after, language = comparison.before, comparison.after, words.language
    cards = [card for card in comparison.cards if card.key.language == language]
    cards = cards or list(comparison.cards)
    begins = after.valid_from
    same = before.code == after.code  # the menu goes by the code it had
    return Report(
        title=words(
            "changes_title",
            before=edition_name(before, language),
            after=words("changes_now") if same else edition_name(after, language),
        ),
        begins=words("changes_begin", day=words.date(begins)) if begins and cards else "",
        safety=safety([card for card in cards if card.after], comparison, words),
        new=_names((card for card in cards if not card.before), words),
        withdrawn=_names((card for card in cards if not card.after), words),
        changed=sections(cards, comparison, words),
        wall_title=wall_title(comparison, words),
        wall_notes=wall_notes(comparison, words),
        wall=wall(comparison, words),
    )


def _names(cards: Iterable[CardChange], words: Words) -> tuple[str, ...]:
    """Each drink or other card once, with its sizes."""
    kinds = {kind: f"{capital(words(f'kind_{kind}'))}: " for kind in KINDS} | {"build": ""}
    sizes = grouped((kinds[card.key.kind] + card.name, card.size) for card in cards)
    return tuple(joined(name, *named) for name, named in sizes.items())


def as_text(report: Report, words: Words) -> str:
    """The report as a text for a terminal or a message to the team."""
    lines = [report.title, *filter(None, [report.begins]), ""]
    blocks: list[tuple[str, Sequence[str | Group]]] = [
        (words("changes_safety"), report.safety),
        (words("changes_new"), report.new),
        (words("changes_withdrawn"), report.withdrawn),
        *((section.title, section.groups) for section in report.changed),
        (report.wall_title, (*report.wall_notes, *report.wall) if report.wall else ()),
    ]
    for title, content in blocks:
        if content:
            lines += [title, *_indented(content), ""]
    if not report.wall:
        lines.append(words("changes_none"))
    return "\n".join(lines).rstrip() + "\n"


def _indented(content: Sequence[str | Group]) -> Iterator[str]:
    for item in content:
        if isinstance(item, str):
            yield f"  {item}"
        else:
            yield f"  {item.title}"
            yield from (f"    {line}" for line in item.lines)
