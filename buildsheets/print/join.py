"""Leaves in; one PDF of all their pages, sharing one font per face, with bookmarks, out."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from buildsheets.print.faces import cut, fill, tables
from buildsheets.print.leaf import GLYPHS, Leaf
from buildsheets.print.render import PageInfo, RenderOptions

Keep = Callable[[str, Callable[[], bytes]], bytes]  # a key and how to make it: kept or made


def join(leaves: Sequence[Leaf], options: RenderOptions, keep: Keep | None = None) -> bytes:
    """One document of all leaves, in order. The same leaves and options give the same bytes.

    ``keep`` may hold on to the fonts cut for a set of glyphs: one changed card seldom needs a
    new one.
    """
    import pikepdf

    pages = [page for leaf in leaves for page in leaf.pages]
    with pikepdf.new() as pdf:
        sources = [pikepdf.open(io.BytesIO(leaf.pdf)) for leaf in leaves]
        try:
            for source in sources:
                pdf.pages.extend(source.pages)
            _share_fonts(pdf, keep or (lambda key, make: make()))
            _finish(pdf, pages, options)
            buffer = io.BytesIO()
            pdf.save(
                buffer,
                deterministic_id=True,
                object_stream_mode=pikepdf.ObjectStreamMode.generate,
                recompress_flate=False,
            )
        finally:
            for source in sources:
                source.close()
        return buffer.getvalue()


def _share_fonts(pdf: Any, keep: Keep) -> None:
    """Put one font per face in the place of every stub; a font that is no stub stays."""
    places: dict[str, list[tuple[Any, str]]] = {}
    glyphs: dict[str, set[int]] = {}
    texts: dict[str, dict[int, str]] = {}
    for page in pdf.pages:
        fonts = page.Resources.get("/Font", {})
        for name in sorted(fonts.keys()):
            if GLYPHS not in fonts[name]:
                continue
            told = json.loads(str(fonts[name][GLYPHS]))
            # Name and metrics of a face's fonts are one with the face, except for its prefix.
            face = f"{name}{told['face']}"
            places.setdefault(face, []).append((fonts, name))
            glyphs.setdefault(face, set()).update(told["glyphs"])
            for gid, text in told["texts"].items():
                known = texts.setdefault(face, {})
                known[int(gid)] = min(text, known.get(int(gid), text))
    for face in sorted(places):
        first_fonts, name = places[face][0]
        shared = first_fonts[name]
        table = tables()[json.loads(str(shared[GLYPHS]))["face"]]
        used = sorted(glyphs[face])
        program = keep(f"font {table.name} {used}", lambda t=table, u=used: cut(t.path, u))  # type: ignore[misc]
        del shared[GLYPHS]
        fill(pdf, shared, table, used, texts.get(face, {}), program)
        for fonts, own_name in places[face][1:]:
            fonts[own_name] = shared


def _finish(pdf: Any, pages: Sequence[PageInfo], options: RenderOptions) -> None:
    """Language, metadata, bookmarks, and the wish not to be scaled."""
    import pikepdf

    root = pdf.Root
    if options.language:
        root.Lang = pikepdf.String(options.language)
    root.ViewerPreferences = pikepdf.Dictionary(
        PrintScaling=pikepdf.Name("/None"), DisplayDocTitle=True
    )
    root.PageMode = pikepdf.Name("/UseOutlines")
    told = {
        "/Title": options.title or (pages[0].title if pages else ""),
        "/Author": options.author,
        "/Keywords": options.edition,
        "/Edition": options.edition,
    }
    for name, text in told.items():
        if text:
            pdf.docinfo[name] = text
    with pdf.open_outline() as outline:
        for number, page in enumerate(pages):
            outline.root.append(pikepdf.OutlineItem(bookmark(page), number))


def bookmark(page: PageInfo) -> str:
    """A page's name in the list of bookmarks: code, title and part."""
    part = f" {page.part}/{page.parts}" if page.parts > 1 else ""
    return f"{page.code}  {page.title}{part}"


def describe(options: RenderOptions) -> Mapping[str, str]:
    """What of the options is in a joined document and not in its leaves: for cache keys."""
    return {
        "title": options.title,
        "author": options.author,
        "edition": options.edition,
        "language": options.language,
    }
