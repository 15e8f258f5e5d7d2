"""The guide's blocks in order: files that it tells to write, and commands that it tells to run."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

from buildsheets.guide.chapters import Chapter, chapters

FENCE = re.compile(r"(?ms)^```(\w*)\n(.*?)^```$")
INLINE = re.compile(r"`(buildsheets [^`]+)`")


def commands(text: str) -> list[list[str]]:
    """The words after each ``buildsheets`` that starts a command, without comments."""
    found = []
    for line in text.splitlines():
        for part in re.split(r"&&|;", line):
            words = shlex.split(part, comments=True)
            if words and words[0].rpartition("/")[2] == "buildsheets":
                found.append(words[1:])
    return found


def told(chapter: Chapter) -> Iterator[tuple[str, str]]:
    """What a chapter tells to do, in order: a block's language and text; commands within a
    sentence or a table have the language ``inline``. A block without a language only shows."""
    end = 0
    for block in FENCE.finditer(chapter.text):
        yield from (("inline", one) for one in INLINE.findall(chapter.text[end : block.start()]))
        if block[1]:
            yield block[1], block[2]
        end = block.end()
    yield from (("inline", one) for one in INLINE.findall(chapter.text[end:]))


def shown() -> list[list[str]]:
    """Every command in the guide, in its order."""
    return [
        words
        for chapter in chapters()
        for language, text in told(chapter)
        if language in ("sh", "inline")
        for words in commands(text)
        if words != ["COMMAND", "--help"]
    ]


def write(folder: Path, language: str, text: str) -> None:
    """Write what a block tells to write. Its first line names the file: ``# menu/lemon.yaml``, or
    ``# in menu/shop.yaml`` where its keys go into a section that is there."""
    if language == "csv":
        (folder / "drinks.csv").write_text(text, "utf-8")
        return
    first, _, rest = text.partition("\n")
    named = re.fullmatch(r"(?:# |/\* )(in )?(\S+)(?: \*/)?", first)
    assert named, first
    path = folder / named[2]
    if named[1]:
        rest = put_in(path.read_text("utf-8"), rest)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(rest, "utf-8")


def put_in(text: str, section: str) -> str:
    """A menu file with the keys of a section changed, or added at its top."""
    name, *lines = section.splitlines()
    held = re.search(rf"(?ms)^{name}\n(.*?)(?=^\S|\Z)", text)
    assert held, name
    body = held[1]
    for line in lines:
        key = re.escape(line.partition(":")[0])
        body, changed = re.subn(rf"(?m)^{key}:.*$", line, body)
        body = body if changed else f"{line}\n{body}"
    return text[: held.start(1)] + body + text[held.end(1) :]
