"""The guide's texts go in; its chapters come out, as Markdown or plainly for a terminal.

Each chapter is a Markdown file in ``text/``, in English; its first line is its title.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

FOLDER = Path(__file__).parent
NAMES = (
    *("start", "cups", "menu", "printing", "cards", "phones", "season", "learn", "kitchen"),
    *("money", "safety", "looks", "trouble", "commands", "findings"),
)
"""The chapters in order: each is asked for by its name, which is its file's."""

CODE = re.compile(r"[A-Z]{3,5}\d\d")
"""A finding's code."""


@dataclass(frozen=True, slots=True)
class Chapter:
    """A chapter: its name, its title, and its text as Markdown, the title on the first line."""

    name: str
    title: str
    text: str


def chapters() -> tuple[Chapter, ...]:
    """All chapters in order. The last says how findings are read; what each means is in the
    rulebook."""
    return tuple(map(_read, NAMES))


def _read(name: str) -> Chapter:
    text = (FOLDER / "text" / f"{name}.md").read_text("utf-8")
    return Chapter(name, text.partition("\n")[0].removeprefix("# "), text)


def plain(chapter: Chapter) -> str:
    """A chapter for a terminal: pictures as their words, links as the command that shows them."""
    text = re.sub(r"!\[([^]]*)\]\([^)]*\)", r"(Picture: \1)", chapter.text)
    text = re.sub(r"\[([^]]+)\]\((\w+)\.md(?:#([\w-]+))?\)", _as_command, text)
    text = re.sub(r"(?m)(^\|.*\n)+", _as_columns, text.replace("**", ""))
    lines, inside = [], False
    for line in text.splitlines():
        if line.startswith("```"):
            inside = not inside
        else:
            lines.append(f"    {line}".rstrip() if inside else line)
    return "\n".join(lines) + "\n"


def _as_columns(table: re.Match[str]) -> str:
    from tabulate import tabulate

    head, _, *rows = ([c.strip() for c in row.split("|")[1:-1]] for row in table[0].splitlines())
    return tabulate(rows, head, "simple", maxcolwidths=44, disable_numparse=True) + "\n"


def _as_command(link: re.Match[str]) -> str:
    words, name, place = link.groups()
    if place and CODE.fullmatch(place):
        return f"{words} (`rule {place}`)" if words != place else words
    return f"{words} (`guide {name}`)"
