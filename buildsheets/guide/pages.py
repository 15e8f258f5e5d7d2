"""The guide's chapters go in; its HTML pages, and the one PDF of them, come out."""

from __future__ import annotations

import base64
import re
from collections.abc import Callable
from html import escape

from markdown_it import MarkdownIt

from buildsheets.findings.catalogue import catalogue
from buildsheets.guide.chapters import CODE, FOLDER, Chapter, chapters

TITLE = "The guide to buildsheets"
_LINK = re.compile(r"(\w+)\.md(?:#([\w-]+))?")


def guide_pages() -> dict[str, str]:
    """Every file of the guide in HTML by its name: ``index.html``, one a chapter, ``style.css``.

    Pictures are within the pages; there is no script and no style within them, and they link to
    each other by file names alone: serve them side by side at any address, or open them from a
    folder. A finding's place is ``findings.html#FIT01``.
    """
    all_of_it = chapters()
    pages = {"index.html": _page(TITLE, f"<h1>{TITLE}</h1>\n{_contents(_beside)}")}
    names = ["index", *(one.name for one in all_of_it)]
    for at, one in enumerate(all_of_it, 1):
        beside = [("Back", names[at - 1]), ("Contents", "index")]
        beside += [("On", name) for name in names[at + 1 : at + 2]]
        links = "".join(f'<a href="{name}.html">{word}</a>\n' for word, name in beside)
        nav = f"<nav>\n{links}</nav>\n"
        pages[f"{one.name}.html"] = _page(one.title, f"{nav}{_html(one, _beside)}{nav}")
    return {**pages, "style.css": _style("screen")}


def guide_pdf() -> bytes:
    """The whole guide as one tagged PDF (PDF/UA-1) with contents and page numbers.

    Raises ``NativeLibrariesMissing``.
    """
    from buildsheets.print.engine import lay_out
    from buildsheets.print.layouts import Layouts

    body = f"<h1>{TITLE}</h1>\n<nav>\n{_contents(_within)}</nav>\n" + "".join(
        f'<section id="{one.name}">\n{_html(one, _within, f"{one.name}-")}</section>\n'
        for one in chapters()
    )
    laid = lay_out(
        _page(TITLE, body, f"<style>{_style('print')}</style>"), "", Layouts(),
        well_formed=False, variant="pdf/ua-1", links=True,
    )  # fmt: skip
    return laid.pdf(variant="pdf/ua-1")


def _contents(link: Callable[[str, str], str]) -> str:
    """The list of chapters."""
    rows = (f'<li><a href="{link(c.name, "")}">{escape(c.title)}</a></li>\n' for c in chapters())
    return f"<ol>\n{''.join(rows)}</ol>\n"


def _html(chapter: Chapter, link: Callable[[str, str], str], prefix: str = "") -> str:
    """A chapter's HTML; ``link`` makes an address of a chapter and a place in it, and ids of
    headings begin with ``prefix``."""
    text = chapter.text + (findings_text() if chapter.name == "findings" else "")
    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = reader.parse(text)
    for at, token in enumerate(tokens):
        if token.type == "heading_open":
            token.attrSet("id", prefix + place(tokens[at + 1].content))
        for child in token.children or ():
            if child.type == "link_open":
                found = _LINK.fullmatch(str(child.attrGet("href")))
                if found:
                    child.attrSet("href", link(found[1], found[2] or ""))
            elif child.type == "image":
                data = (FOLDER / str(child.attrGet("src")).removeprefix("../")).read_bytes()
                encoded = base64.b64encode(data).decode("ascii")
                child.attrSet("src", f"data:image/png;base64,{encoded}")
    return str(reader.renderer.render(tokens, reader.options, {}))


def findings_text() -> str:
    """What each finding means, as Markdown: a heading a code, then its documentation."""
    import buildsheets.rules.run  # noqa: F401  its import enters the rules

    return "".join(
        f"\n## {code} {entry.name} ({entry.severity})\n\n{_as_markdown(entry.documentation)}\n"
        for code, entry in sorted(catalogue().items())
    )


def _as_markdown(documentation: str) -> str:
    """A docstring's literal blocks begin after ``::``; Markdown needs their indent alone."""
    return re.sub(r"::$", ":", documentation, flags=re.MULTILINE)


def place(heading: str) -> str:
    """A heading's anchor: a finding's code, else its words in small letters with hyphens."""
    first = heading.partition(" ")[0]
    if CODE.fullmatch(first):
        return first
    return re.sub(r"[^\w]+", "-", heading.casefold()).strip("-")


def _beside(name: str, at: str) -> str:
    """The address of a place on another page."""
    return f"{name}.html#{at}" if at else f"{name}.html"


def _within(name: str, at: str) -> str:
    """The address of a place in the one document."""
    return f"#{name}-{at}" if at else f"#{name}"


def _style(medium: str) -> str:
    return "".join((FOLDER / f"{name}.css").read_text("utf-8") for name in ("style", medium))


def _page(title: str, body: str, style: str = '<link rel="stylesheet" href="style.css">') -> str:
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width,initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n{style}\n</head>\n"
        f"<body>\n<main>\n{body}</main>\n</body>\n</html>\n"
    )
