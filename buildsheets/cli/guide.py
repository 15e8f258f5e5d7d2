"""The command that shows the guide: a chapter in the terminal, all of it as pages or as one PDF."""

from __future__ import annotations

import argparse
from pathlib import Path

from buildsheets.cli.commands import CLEAN, COULD_NOT, Ended, show, write_files
from buildsheets.findings.spelling import listed, nearest
from buildsheets.guide.chapters import CODE, NAMES, Chapter, chapters, plain


def guide(options: argparse.Namespace) -> int:
    """List the chapters, or show what was asked for."""
    if options.pdf:
        from buildsheets.guide.pages import guide_pdf

        show(write_files(options.pdf.parent, {options.pdf.name: guide_pdf()}), options)
    elif options.html or options.open:
        from buildsheets.guide.pages import guide_pages

        pages = {name: page.encode() for name, page in guide_pages().items()}
        folder = options.html or Path("out/guide")
        write_files(folder, pages)
        show(folder, options)
    elif options.chapter:
        print(plain(_chapter(options.chapter)), end="")
    else:
        for one in chapters():
            print(f"{one.name:<10}{one.title}")
        print("\nbuildsheets guide CHAPTER shows one, buildsheets guide --open all with pictures")
    return CLEAN


def _chapter(word: str) -> Chapter:
    for one in chapters():
        if one.name == word.casefold():
            return one
    if CODE.fullmatch(word.upper()):
        raise Ended(COULD_NOT, f"{word} is a finding; see `buildsheets rule {word.upper()}`")
    near = nearest(word, NAMES, 3)
    hint = f"did you mean {listed(near)}?" if near else f"there is {listed(NAMES, 'and')}"
    raise Ended(COULD_NOT, f"there is no chapter '{word}'; {hint}")
