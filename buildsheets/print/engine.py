"""HTML in; a PDF with the engine's every complaint, and what became of each page, out."""

from __future__ import annotations

import ctypes.util
import logging
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from xml.etree import ElementTree

from buildsheets.print.fonts import families, use_private_configuration
from buildsheets.print.frames import in_one_stretch
from buildsheets.print.layouts import LayoutMissing, Layouts

APT_COMMAND = "apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
OWN_SCHEME = "layout"
MM_PER_PX = 25.4 / 96


class NativeLibrariesMissing(RuntimeError):
    """The PDF engine's native libraries are not installed; the message has the command."""


@dataclass(frozen=True, slots=True)
class LaidOutPage:
    """A page as the engine laid it out: its size in mm."""

    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class EngineResult:
    """One document: its PDF, its pages, and the lines the engine logged at warning or above."""

    pdf: bytes
    pages: tuple[LaidOutPage, ...]
    complaints: tuple[str, ...]
    strange_fonts: tuple[str, ...]


@lru_cache(maxsize=1)
def _weasyprint() -> Any:
    use_private_configuration()
    try:
        with _no_search():
            import weasyprint
    except OSError as error:
        raise NativeLibrariesMissing(
            f"the PDF engine cannot load its libraries ({error}); install them with: {APT_COMMAND}"
        ) from error
    return weasyprint


@contextmanager
def _no_search() -> Iterator[None]:
    """Open libraries by their own names only.

    The engine tries a row of names for each of its libraries, and for every wrong one the
    standard library asks the compiler and the linker: a third of the import's time. On Linux the
    right name is in the row; elsewhere the search is needed.
    """
    search = ctypes.util.find_library
    if sys.platform == "linux":
        ctypes.util.find_library = lambda name: None
    try:
        yield
    finally:
        ctypes.util.find_library = search


class _Listener(logging.Handler):
    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.lines.append(f"{record.levelname}: {record.getMessage()}")


@contextmanager
def _listening() -> Iterator[_Listener]:
    listener = _Listener()
    logger = logging.getLogger("weasyprint")
    handlers, propagate = logger.handlers[:], logger.propagate
    logger.handlers[:], logger.propagate = [listener], False
    try:
        yield listener
    finally:
        logger.handlers[:], logger.propagate = handlers, propagate


def _fetcher(layouts: Layouts) -> Any:
    """Fetches layout files and data addresses; anything else ends the rendering."""
    from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

    class LayoutFetcher(URLFetcher):  # type: ignore[misc]
        def fetch(self, url: str, headers: Any = None) -> Any:
            scheme, _, rest = url.partition(":")
            if scheme.lower() == "data":
                return super().fetch(url, headers)
            if scheme.lower() == OWN_SCHEME:
                try:
                    return URLFetcherResponse(url, layouts.data(rest.lstrip("/")))
                except LayoutMissing as missing:
                    raise FatalURLFetchingError(str(missing)) from missing
            raise FatalURLFetchingError(f"a layout may not fetch {url}")

    return LayoutFetcher(allowed_protocols=("data", OWN_SCHEME), allow_redirects=False)


_FOR_NOTES = re.compile(r"^::(foot)?note-[^{]*\{[^}]*\}", re.MULTILINE)
_FOR_LISTS = re.compile(r"^::marker\b", re.MULTILINE)


def lean_defaults(sheet: str) -> str:
    """The engine's default style sheet without rules that name every element."""
    return _FOR_LISTS.sub("li::marker", _FOR_NOTES.sub("", sheet))


@lru_cache(maxsize=1)
def _document_class() -> Any:
    """The engine's document, without two things that take it time.

    Its default rules for footnotes and list markers name every element, so that each gets six
    styles of its own for what hardly any has: a tenth of the time a card takes. And what is
    well-formed XML needs no reading as HTML, which is written in Python: half of another tenth.
    """
    weasyprint = _weasyprint()
    from cssselect2 import ElementWrapper
    from weasyprint.html import UA, UA_COUNTER_STYLE

    defaults = weasyprint.CSS(string=lean_defaults(UA), counter_style=UA_COUNTER_STYLE)

    class Document(weasyprint.HTML):  # type: ignore[misc, name-defined]
        def __init__(self, text: str, *, well_formed: bool, **more: Any) -> None:
            super().__init__(string="<p>" if well_formed else text, **more)
            if well_formed:
                self.etree_element = ElementTree.fromstring(text)
                self.wrapper_element = ElementWrapper.from_html_root(self.etree_element)

        def _ua_stylesheets(self, forms: bool = False) -> list[Any]:
            return [defaults]  # a card has no forms

    return Document


def to_pdf(
    html: str, layouts: Layouts, variant: str = "", *, well_formed: bool = False
) -> EngineResult:
    """Lay out and write one document; ``variant`` names a standard to keep ("pdf/ua-1").

    ``well_formed`` says that ``html`` is XML too. Raises ``ElementTree.ParseError`` if it is not.
    A forbidden address ends up among the complaints with an empty PDF. Raises
    ``NativeLibrariesMissing``.
    """
    document_class = _document_class()
    from weasyprint.urls import FatalURLFetchingError

    def lay_out() -> tuple[Any, bytes]:
        document = document_class(
            html,
            well_formed=well_formed,
            base_url=f"{OWN_SCHEME}:/",
            url_fetcher=_fetcher(layouts),
        ).render()
        return document, document.write_pdf(pdf_variant=variant or None)

    with _listening() as listener:
        try:
            document, pdf = in_one_stretch(lay_out)
        except FatalURLFetchingError as error:
            return EngineResult(b"", (), (*listener.lines, str(error)), ())
    pages = tuple(
        LaidOutPage(page.width * MM_PER_PX, page.height * MM_PER_PX) for page in document.pages
    )
    used = {font.family.decode() if isinstance(font.family, bytes) else str(font.family)
            for font in document.fonts.values()}  # fmt: skip
    return EngineResult(pdf, pages, tuple(listener.lines), tuple(sorted(used - set(families()))))


def native_versions() -> str:
    """Versions of the engine and Pango, for the key finished cards are kept under."""
    weasyprint = _weasyprint()
    from weasyprint.text.ffi import pango

    return f"weasyprint {weasyprint.__version__}, pango {pango.pango_version()}"
