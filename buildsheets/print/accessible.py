"""Card views in; one tagged document with headings and real tables, for screen readers, out.

Cards are drawn by place, and joining and laying them on sheets drops their tags; this edition
says the same in reading order instead, as PDF/UA-1 (ISO 14289-1) or as PDF/A for keeping.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from markupsafe import Markup

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.print.engine import to_pdf
from buildsheets.print.fonts import families
from buildsheets.print.layouts import Layouts
from buildsheets.print.templates import broken_layout, environment
from buildsheets.views.prep_views import AnyView
from buildsheets.views.words import UnknownWord

# PDF/UA-1 for reading; PDF/A-3u for keeping; PDF/A-3a is both tagged and for keeping.
VARIANTS = ("pdf/ua-1", "pdf/a-3u", "pdf/a-3a")
# Labels are stuck on tubs, not read as a document.
_LEFT_OUT = ("labels",)


@dataclass(frozen=True, slots=True)
class AccessibleOptions:
    """Title and language of the document (each card has its own), the standard, own layouts."""

    title: str
    language: str
    author: str = ""
    edition: str = ""
    variant: str = VARIANTS[0]
    layouts: Path | None = None

    def __post_init__(self) -> None:
        if self.variant not in VARIANTS:
            raise ValueError(f"variant {self.variant!r} is none of {', '.join(VARIANTS)}")


@dataclass(frozen=True, slots=True)
class Accessible:
    """The PDF, empty when there is a finding, and the findings."""

    pdf: bytes
    findings: tuple[Finding, ...]


def accessible(views: Sequence[AnyView], options: AccessibleOptions) -> Accessible:
    """One document of all views, in order; a heading each. The same views give the same bytes.

    Raises ``NativeLibrariesMissing``.
    """
    layouts = Layouts(options.layouts)
    shown = [view for view in views if view.kind not in _LEFT_OUT]
    codes = [view.code for view in shown]
    try:
        said = {view.language: layouts.words(view.language) for view in shown}
        templates = environment(layouts)
        style = templates.get_template("accessible/style.css").render(
            families=Markup(", ").join(Markup('"{}"').format(name) for name in families()),
            **layouts.tokens(),
        )
        html = templates.get_template("accessible/document.html").render(
            views=shown,
            said=said,
            title=options.title,
            language=options.language,
            author=options.author,
            edition=options.edition,
            style=Markup(style),
        )
    except UnknownWord as unknown:
        told = str(unknown.args[0])
        return Accessible(b"", (finding("CARD02", None, told, subject=codes),))
    except Exception as broken:  # a shop's own template may raise anything
        return Accessible(b"", (broken_layout(broken, codes),))
    made = to_pdf(html, layouts, options.variant)
    found = [
        finding("CARD07", None, f"the PDF engine said: {line}", subject=codes)
        for line in made.complaints
    ]
    if made.strange_fonts:
        fonts = ", ".join(made.strange_fonts)
        found.append(
            finding("CARD11", None, f"text was set in a font not ours: {fonts}", subject=codes)
        )
    if found:
        return Accessible(b"", tuple(found))
    return Accessible(_with_languages(made.pdf, [view.language for view in shown]), ())


def _with_languages(pdf: bytes, languages: Sequence[str]) -> bytes:
    """Name the language of each card's part where the document is tagged; the engine names only
    the document's (ISO 14289-1, 7.2 asks for every change)."""
    import pikepdf

    with pikepdf.open(io.BytesIO(pdf)) as held:
        if "/StructTreeRoot" not in held.Root:
            return pdf
        document = held.Root.StructTreeRoot.K
        top = document[0] if isinstance(document, pikepdf.Array) else document
        card = -1
        for part in top.K:
            if part.get("/S") != "/Sect":
                continue
            inside = part.get("/K")
            first = inside[0] if isinstance(inside, pikepdf.Array) else inside
            # A card that goes on on the next page is a part of its own there, without its heading.
            card += isinstance(first, pikepdf.Dictionary) and first.get("/S") == "/H2"
            part.Lang = pikepdf.String(languages[card])
        buffer = io.BytesIO()
        held.save(buffer, deterministic_id=True)
        return buffer.getvalue()
