"""Finished cards in; one PDF of all their pages with bookmarks and metadata out."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from buildsheets.print.render import PageInfo, Printed, RenderOptions


def join(cards: Sequence[Printed], options: RenderOptions) -> bytes:
    """One document of all cards, in order. The same cards and options give the same bytes."""
    import pikepdf

    pages = [page for card in cards for page in card.pages]
    with pikepdf.new() as pdf:
        for card in cards:
            with pikepdf.open(io.BytesIO(card.pdf)) as source:
                pdf.pages.extend(source.pages)
        finish(
            pdf,
            options.language,
            {
                "/Title": options.title or (pages[0].title if pages else ""),
                "/Author": options.author,
                "/Keywords": options.edition,
                "/Edition": options.edition,
            },
            [bookmark(page) for page in pages],
        )
        buffer = io.BytesIO()
        pdf.save(
            buffer,
            deterministic_id=True,
            object_stream_mode=pikepdf.ObjectStreamMode.generate,
            recompress_flate=False,
        )
        return buffer.getvalue()


def finish(
    pdf: Any, language: str, told: Mapping[str, str], bookmarks: Sequence[str], **wishes: Any
) -> None:
    """Language, metadata, a bookmark a page, and the wish not to be scaled, with further
    ``wishes`` to the printer."""
    import pikepdf

    root = pdf.Root
    if language:
        root.Lang = pikepdf.String(language)
    root.ViewerPreferences = pikepdf.Dictionary(
        PrintScaling=pikepdf.Name("/None"), **wishes, DisplayDocTitle=True
    )
    root.PageMode = pikepdf.Name("/UseOutlines")
    for name, text in told.items():
        if text:
            pdf.docinfo[name] = text
    with pdf.open_outline() as outline:
        for number, text in enumerate(bookmarks):
            outline.root.append(pikepdf.OutlineItem(text, number))


def bookmark(page: PageInfo) -> str:
    """A page's name in the list of bookmarks: code, title and part."""
    part = f" {page.part}/{page.parts}" if page.parts > 1 else ""
    return f"{page.code}  {page.title}{part}"


def describe(options: RenderOptions) -> Mapping[str, str]:
    """What of the options is in a joined document and not in its cards: for cache keys."""
    return {
        "title": options.title,
        "author": options.author,
        "edition": options.edition,
        "language": options.language,
    }
