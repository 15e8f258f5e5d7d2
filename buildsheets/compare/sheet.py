"""A report on changes in; a PDF for the team, with boxes to tick off at each station, out."""

from __future__ import annotations

from dataclasses import astuple

from jinja2 import StrictUndefined
from jinja2.sandbox import ImmutableSandboxedEnvironment
from markupsafe import Markup

from buildsheets.compare.report import Report
from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.findings.spelling import listed
from buildsheets.print.layouts import Layouts
from buildsheets.views.words import Words


def change_sheet(report: Report, words: Words, layouts: Layouts) -> tuple[bytes, list[Finding]]:
    """The sheet, or findings that say why it cannot be printed. Raises
    ``NativeLibrariesMissing``."""
    from buildsheets.print.document import glued
    from buildsheets.print.engine import EngineComplaint, lay_out
    from buildsheets.print.fonts import families, missing_glyphs
    from buildsheets.print.typeface import faces_of, font_rules

    faces = faces_of(layouts)
    if lacking := missing_glyphs(_text(astuple(report)), faces):
        return b"", [_broken(f"its typeface has no {listed(map(repr, lacking))}")]
    environment = ImmutableSandboxedEnvironment(autoescape=True, undefined=StrictUndefined)
    environment.finalize = glued
    style = environment.from_string(layouts.text("changes/style.css")).render(
        families=Markup(", ").join(Markup('"{}"').format(name) for name in families(faces)),
        **layouts.tokens(),
    )
    html = environment.from_string(layouts.text("changes/sheet.html")).render(
        report=report, w=words
    )
    try:
        sheet = f"{font_rules(layouts)}\n{style}"
        return lay_out(html, sheet, layouts, well_formed=False).pdf(), []
    except EngineComplaint as complaint:
        return b"", [_broken(str(complaint))]


def _text(part: object) -> str:
    if isinstance(part, str):
        return part
    assert isinstance(part, tuple | list)
    return "".join(map(_text, part))


def _broken(why: str) -> Finding:
    return finding("PUB06", None, f"the change sheet: {why}")
