"""Layout files in; templates that cannot reach beyond them, and what is wrong with one, out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from traceback import walk_tb

from jinja2 import BaseLoader, Environment, StrictUndefined, TemplateNotFound, TemplateSyntaxError
from jinja2.sandbox import ImmutableSandboxedEnvironment

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Span
from buildsheets.print.layouts import LayoutBroken, LayoutMissing, Layouts

_TEMPLATES = (".html", ".css")
SHIPPED = "shipped:"


class _LayoutLoader(BaseLoader):
    """Finds templates where ``Layouts`` finds them, and tells errors which file it was."""

    def __init__(self, layouts: Layouts) -> None:
        self.layouts = layouts

    def get_source(
        self, environment: Environment, template: str
    ) -> tuple[str, str | None, Callable[[], bool] | None]:
        own, name = self.layouts, template
        if template.startswith(SHIPPED):  # a shop's own template may extend the one it replaces
            own, name = Layouts(None), template.removeprefix(SHIPPED)
        try:
            return own.text(name), str(own.path(name)), None
        except LayoutBroken:
            raise
        except LayoutMissing as missing:
            raise TemplateNotFound(template, str(missing)) from missing


def environment(layouts: Layouts) -> ImmutableSandboxedEnvironment:
    """Templates escape what they are given, reach no files or private parts, change nothing.

    A name a template asks for and is not given is an error, not an empty string.
    """
    return ImmutableSandboxedEnvironment(
        loader=_LayoutLoader(layouts),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def broken_layout(error: Exception, cards: Sequence[str] = ()) -> Finding:
    """The finding for a layout that does not work, at its file and line where they are known."""
    span = _place(error)
    where = f" ({span.file}, line {span.line})" if span else ""
    what = error.message if isinstance(error, TemplateSyntaxError) else str(error)
    return finding(
        "CARD12",
        span,
        f"a layout file does not work{where}: {what or type(error).__name__}",
        hint="fix the file, or take it away and the shipped one is used",
        subject=tuple(cards),
    )


def _place(error: Exception) -> Span | None:
    if isinstance(error, LayoutBroken):
        return _span(error.file, error.line)
    if isinstance(error, TemplateSyntaxError) and error.filename:
        return _span(error.filename, error.lineno)
    found = None
    # Errors while a template is filled in pass through frames that have its file and lines.
    for frame, line in walk_tb(error.__traceback__):
        if frame.f_code.co_filename.endswith(_TEMPLATES):
            found = _span(frame.f_code.co_filename, line)
    return found


def _span(file: str, line: int) -> Span:
    return Span(file, line, 1, line + 1, 1)
