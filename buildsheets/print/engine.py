"""HTML and a style sheet in; laid-out pages, their boxes, and their PDF out."""

from __future__ import annotations

import logging
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from xml.etree import ElementTree

from buildsheets.print.default_style import document_class
from buildsheets.print.fonts import Face, families, use_private_configuration
from buildsheets.print.layouts import LayoutMissing, Layouts
from buildsheets.print.typeface import faces_of, installed_of

APT_COMMAND = "apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
OWN_SCHEME = "layout"
BASE = f"{OWN_SCHEME}:/"
MM_PER_PX = 25.4 / 96


class NativeLibrariesMissing(RuntimeError):
    """The PDF engine's native libraries are not installed; the message has the command."""


class EngineComplaint(Exception):
    """The engine could not do as asked: what it logged at warning or above, or refused."""


class ForeignFont(EngineComplaint):
    """Text was set in a typeface that is not among those chosen."""


@dataclass(frozen=True, slots=True)
class Box:
    """Where an element with an id stands on its page, in mm from the top left."""

    left_mm: float
    top_mm: float
    right_mm: float
    bottom_mm: float

    @property
    def height_mm(self) -> float:
        """Its height."""
        return self.bottom_mm - self.top_mm


@dataclass(frozen=True, slots=True)
class Page:
    """A laid-out page: its size, and its elements that have an id."""

    width_mm: float
    height_mm: float
    boxes: Mapping[str, Box]


@lru_cache(maxsize=1)
def load_engine() -> Any:
    """The PDF engine, imported. Raises ``NativeLibrariesMissing``."""
    use_private_configuration()
    try:
        import weasyprint
    except OSError as error:
        raise NativeLibrariesMissing(
            f"the PDF engine cannot load its libraries ({error}); install them with: {APT_COMMAND}"
        ) from error
    return weasyprint


class _Listener(logging.Handler):
    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.lines.append(f"{record.levelname}: {record.getMessage()}")


@contextmanager
def _strict() -> Iterator[None]:
    """Any warning of the engine, and any address it may not fetch, is an ``EngineComplaint``."""
    from weasyprint.urls import FatalURLFetchingError

    listener = _Listener()
    logger = logging.getLogger("weasyprint")
    handlers, propagate = logger.handlers[:], logger.propagate
    logger.handlers[:], logger.propagate = [listener], False
    try:
        yield
    except FatalURLFetchingError as error:
        listener.lines.append(str(error))
    finally:
        logger.handlers[:], logger.propagate = handlers, propagate
    if listener.lines:
        raise EngineComplaint("; ".join(dict.fromkeys(listener.lines)))


@lru_cache(maxsize=8)
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


@dataclass(frozen=True)
class LaidOut:
    """A document the engine has laid out and not yet written: its pages, and the text of each of
    its sections."""

    pages: tuple[Page, ...]
    texts: tuple[str, ...]
    families: tuple[str, ...]  # those text may be set in
    document: Any

    def pdf(self, first: int = 0, end: int | None = None, variant: str = "") -> bytes:
        """The pages from ``first`` to before ``end`` as a PDF; ``variant`` names a standard to keep
        ("pdf/ua-1"). Raises ``EngineComplaint``."""
        some = self.document.copy(self.document.pages[first:end])
        with _strict():
            data: bytes = some.write_pdf(pdf_variant=variant or None)
        names = (font.family for font in some.fonts.values())
        used = {name.decode() if isinstance(name, bytes) else str(name) for name in names}
        if strange := used - set(self.families):
            raise ForeignFont(f"text was set in a font not ours: {', '.join(sorted(strange))}")
        return data


def lay_out(
    html: str,
    style: str,
    layouts: Layouts,
    *,
    well_formed: bool = True,
    variant: str = "",
    links: bool = False,
) -> LaidOut:
    """Lay one document out. ``well_formed`` says that ``html`` is XML too, ``links`` that places
    in it may be linked to.

    Raises ``EngineComplaint``, ``NativeLibrariesMissing``, and ``ElementTree.ParseError`` for HTML
    that is not XML although said to be.
    """
    load_engine()
    document_of = document_class()
    fonts, sheet = _sheet(style, layouts)
    with _strict():
        document = document_of(
            string="<p>" if well_formed else html, base_url=BASE, url_fetcher=_fetcher(layouts)
        )
        if well_formed:
            _take_xml(document, html)
        laid = document.render(stylesheets=[sheet], font_config=fonts, pdf_variant=variant or None)
    pages = tuple(
        Page(
            page.width * MM_PER_PX,
            page.height * MM_PER_PX,
            {name: Box(*(side * MM_PER_PX for side in box)) for name, box in page.anchors.items()},
        )
        for page in laid.pages
    )
    sections = document.etree_element.iter("section")
    for page in [] if links else laid.pages:
        page.anchors.clear()  # else each id is a name in the PDF, and they tell cards' order
    texts = tuple("".join(section.itertext()) for section in sections)
    return LaidOut(pages, texts, families(faces_of(layouts)), laid)


@lru_cache(maxsize=16)
def _sheet(style: str, layouts: Layouts) -> tuple[Any, Any]:
    """A style sheet read, and the typefaces it names, once for all documents it is of.

    Raises ``EngineComplaint``.
    """
    import weasyprint

    fonts, fetcher = weasyprint.text.fonts.FontConfiguration(), _fetcher(layouts)
    if faces := installed_of(layouts):
        _add_installed(fonts, faces)
    with _strict():
        sheet = weasyprint.CSS(string=style, base_url=BASE, url_fetcher=fetcher, font_config=fonts)
    return fonts, sheet


def _add_installed(fonts: Any, faces: Sequence[Face]) -> None:
    """Show the engine these files of the machine as they are. A font rule would copy each, and of a
    collection take one font for all weights and languages."""
    from weasyprint.text.ffi import ffi, fontconfig, pangoft2

    for path in dict.fromkeys(face.path for face in faces):
        fontconfig.FcConfigAppFontAddFile(fonts._config, os.fsencode(path))
    pangoft2.pango_fc_font_map_config_changed(ffi.cast("PangoFcFontMap *", fonts.font_map))


def _take_xml(document: Any, html: str) -> None:
    from cssselect2 import ElementWrapper

    document.etree_element = ElementTree.fromstring(html)
    document.wrapper_element = ElementWrapper.from_html_root(document.etree_element)
