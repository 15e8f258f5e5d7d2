"""Card views in; one tagged document of the same templates, for screen readers, out.

Joining cards and laying them on sheets drops their tags; this edition flows as one document in
reading order instead, as PDF/UA-1 (ISO 14289-1) or as PDF/A for keeping. Its templates are those
of the cards; only the style sheet is another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.print.document import Section, Setting, maker
from buildsheets.print.engine import EngineComplaint, lay_out
from buildsheets.print.layouts import LayoutMissing, Layouts
from buildsheets.print.sizes import PREFERRED_ARCMIN
from buildsheets.print.templates import broken_layout
from buildsheets.views.paper import Paper
from buildsheets.views.types import View
from buildsheets.views.words import UnknownWord

# PDF/UA-1 for reading; PDF/A-3u for keeping; PDF/A-3a is both tagged and for keeping.
VARIANTS = ("pdf/ua-1", "pdf/a-3u", "pdf/a-3a")
KIND = "accessible"
# Labels are stuck on tubs, not read as a document.
_LEFT_OUT = ("labels",)


@dataclass(frozen=True, slots=True)
class TaggedOptions:
    """Title and language of the document, the standard, own layouts."""

    title: str
    language: str
    author: str = ""
    edition: str = ""
    variant: str = VARIANTS[0]
    layouts: Path | None = None

    def __post_init__(self) -> None:
        if self.variant not in VARIANTS:
            raise ValueError(f"variant {self.variant!r} is none of {', '.join(VARIANTS)}")


def as_text_page(view: View, layouts: Layouts, title: str) -> str:
    """A card in reading order as HTML, which has no style.

    Raises what a shop's own template may raise.
    """
    return _html([view], _setting(layouts, view.language), title)


def _setting(layouts: Layouts, language: str) -> Setting:
    return Setting(layouts, KIND, language, Paper("A4", 210, 297), 500.0, PREFERRED_ARCMIN, 0.0)


def _html(views: Sequence[View], setting: Setting, title: str, **meta: str) -> str:
    # High enough for the edge gauge of any cup; its picture is not shown.
    high = replace(setting, stock=Paper("", 210, 2000))
    return maker(setting.layouts).html([Section(view) for view in views], high, title, **meta)


def tagged(views: Sequence[View], options: TaggedOptions) -> tuple[bytes, list[Finding]]:
    """One document of all views of its language, in order; empty when there is a finding.

    The same views give the same bytes. Raises ``NativeLibrariesMissing``.
    """
    layouts = Layouts(options.layouts)
    told = [view for view in views if view.kind not in _LEFT_OUT]
    codes = [view.code for view in told]
    setting = _setting(layouts, options.language)
    try:
        html = _html(told, setting, options.title, author=options.author, keywords=options.edition)
        xml, style = layouts.own is None, maker(layouts).style(setting)
        laid = lay_out(html, style, layouts, well_formed=xml, variant=options.variant)
        return laid.pdf(variant=options.variant), []
    except UnknownWord as unknown:
        return b"", [finding("CARD02", None, str(unknown.args[0]), subject=codes)]
    except EngineComplaint as complaint:
        message = f"the PDF engine said: {complaint}"
        return b"", [finding("CARD07", None, message, subject=codes)]
    except (RuntimeError, LayoutMissing):
        raise
    except Exception as broken:  # a shop's own template may raise anything
        return b"", [broken_layout(broken, codes)]
