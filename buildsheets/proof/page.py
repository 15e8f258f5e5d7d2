"""A page of an opened PDF in; its texts with their places, and its raster, out.

Read from the finished file alone: nothing here knows how a card is composed. Lengths in mm from
the page's top left corner.
"""

from __future__ import annotations

import ctypes
import re
from bisect import bisect_left
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

from buildsheets.print import checks
from buildsheets.print.fonts import MM_PER_PT

MM_PER_INCH = 25.4
_MOST_DEEP = 8  # forms within forms
# From the first letter or digit to the last before a space; punctuation around it by itself.
_WORD = re.compile(r"\w(?:\S*\w)?|[^\w\s]")
_PREFIX = re.compile(r"^[A-Z]{6}\+")
_LINE_END_HYPHEN = "\x02"  # as pdfium writes it


# Words come again and again; read without spaces, hyphens and case.
letters = lru_cache(maxsize=4096)(checks.letters)


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on the page."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def height(self) -> float:
        """From top to bottom."""
        return self.bottom - self.top

    def around(self, other: Box) -> Box:
        """The smallest box that holds both."""
        return Box(
            min(self.left, other.left), min(self.top, other.top),
            max(self.right, other.right), max(self.bottom, other.bottom),
        )  # fmt: skip

    def is_beside(self, other: Box) -> bool:
        """Whether at least half of the lower of the two lies level with the other."""
        shared = min(self.bottom, other.bottom) - max(self.top, other.top)
        return shared >= 0.5 * min(self.height, other.height)


@dataclass(frozen=True, slots=True, order=True)
class Font:
    """A font by its name without the subset's prefix, and whether the file has its outlines."""

    name: str
    is_embedded: bool


@dataclass(frozen=True, slots=True)
class Text:
    """Letters drawn in one go: their box (that of the ink), type size, font, whether upright."""

    text: str
    box: Box
    size_pt: float
    font: Font
    is_upright: bool


@dataclass(frozen=True, slots=True)
class Place:
    """Where a string stands: its box, and its words from the first to before ``end``."""

    box: Box
    first: int
    end: int


@dataclass(frozen=True, slots=True)
class _Word:
    letters: str
    box: Box
    text: int  # number of the text it is of


class Page:
    """A page, read when asked: its texts, where strings stand, and its raster, once."""

    def __init__(self, page: Any, dpi: float) -> None:
        self._page = page
        self.dpi = dpi
        width, height = page.get_size()
        self.width_mm, self.height_mm = width * MM_PER_PT, height * MM_PER_PT
        self._found: dict[str, tuple[Place, ...]] = {}

    @cached_property
    def image(self) -> Any:
        """The page in grey, as a printer would."""
        return self._page.render(scale=self.dpi / 72, grayscale=True).to_pil()

    def let_go_of_pixels(self) -> None:
        """Its picture, of 4 MB, is drawn anew if it is asked for again."""
        self.__dict__.pop("image", None)

    @cached_property
    def texts(self) -> tuple[Text, ...]:
        """Its texts in the order they are drawn; those that are hidden or off the page too."""
        return tuple(_texts(self._page))

    @cached_property
    def words(self) -> tuple[_Word, ...]:
        """Its words; those of one text share its box by how many letters they have."""
        found = []
        for number, text in enumerate(self.texts):
            said, box = text.text.strip(), text.box
            per_letter = (box.right - box.left) / max(1, len(said))
            for word in _WORD.finditer(said):
                if held := letters(word[0]):
                    left, right = (box.left + at * per_letter for at in word.span())
                    found.append(_Word(held, Box(left, box.top, right, box.bottom), number))
        return tuple(found)

    @cached_property
    def _starts(self) -> list[int]:
        starts = [0]
        for word in self.words:
            starts.append(starts[-1] + len(word.letters))
        return starts

    @cached_property
    def _letters(self) -> str:
        return "".join(word.letters for word in self.words)

    def find(self, text: str) -> tuple[Place, ...]:
        """Everywhere a text of whole words stands, also over several lines; case is no matter."""
        wanted = letters(text)
        if wanted not in self._found:
            self._found[wanted] = tuple(self._places(wanted)) if wanted else ()
        return self._found[wanted]

    def _places(self, wanted: str) -> Iterator[Place]:
        at = self._letters.find(wanted)
        while at >= 0:
            first = bisect_left(self._starts, at)
            end = bisect_left(self._starts, at + len(wanted))
            if self._starts[first] == at and self._starts[end] == at + len(wanted):
                box = self.words[first].box
                for word in self.words[first + 1 : end]:
                    box = box.around(word.box)
                yield Place(box, first, end)
            at = self._letters.find(wanted, at + 1)


def _texts(page: Any) -> Iterator[Text]:
    import pypdfium2.raw as pdfium

    text_page = page.get_textpage()
    height = page.get_height()
    buffer = (ctypes.c_ushort * 1024)()
    edges = [ctypes.c_float() for _ in range(4)]
    size_pt = ctypes.c_float()
    matrix = pdfium.FS_MATRIX()
    fonts: dict[int, Font] = {}

    def font_of(item: Any) -> Font:
        handle = pdfium.FPDFTextObj_GetFont(item)
        key = ctypes.cast(handle, ctypes.c_void_p).value or 0
        if key not in fonts:
            name = ctypes.create_string_buffer(256)
            pdfium.FPDFFont_GetBaseFontName(handle, name, len(name))
            plain = _PREFIX.sub("", name.value.decode("utf-8", "replace"))
            fonts[key] = Font(plain, pdfium.FPDFFont_GetIsEmbedded(handle) == 1)
        return fonts[key]

    def of(
        count: int, get: Callable[[int], Any], outer: tuple[float, ...], deep: int
    ) -> Iterator[Text]:
        for index in range(count):
            item = get(index)
            kind = pdfium.FPDFPageObj_GetType(item)
            if kind == pdfium.FPDF_PAGEOBJ_FORM and deep < _MOST_DEEP:
                pdfium.FPDFPageObj_GetMatrix(item, matrix)
                inner = _after(outer, matrix)
                yield from of(
                    pdfium.FPDFFormObj_CountObjects(item),
                    lambda at, form=item: pdfium.FPDFFormObj_GetObject(form, at),  # type: ignore[misc]
                    inner,
                    deep + 1,
                )
            elif kind == pdfium.FPDF_PAGEOBJ_TEXT:
                bytes_held = ctypes.sizeof(buffer)
                length = pdfium.FPDFTextObj_GetText(item, text_page, buffer, bytes_held)
                ended = max(0, min(length, bytes_held) - 2)  # after the text a zero of two bytes
                text = (
                    bytes(buffer)[:ended]
                    .decode("utf-16-le", "replace")
                    .replace(_LINE_END_HYPHEN, "-")
                )
                if not text.strip() or not pdfium.FPDFPageObj_GetBounds(item, *edges):
                    continue
                pdfium.FPDFPageObj_GetMatrix(item, matrix)
                pdfium.FPDFTextObj_GetFontSize(item, size_pt)
                a, b, c, d, *_ = _after(outer, matrix)
                left, low, right, high = (edge.value for edge in edges)
                xs, ys = zip(*(_moved(outer, x, y) for x in (left, right) for y in (low, high)),
                             strict=True)  # fmt: skip
                box = Box(
                    min(xs) * MM_PER_PT, (height - max(ys)) * MM_PER_PT,
                    max(xs) * MM_PER_PT, (height - min(ys)) * MM_PER_PT,
                )  # fmt: skip
                upright = abs(b) + abs(c) < 0.01 * (abs(a) + abs(d))
                size = abs(size_pt.value) * (c * c + d * d) ** 0.5
                yield Text(text, box, size, font_of(item), upright)

    yield from of(
        pdfium.FPDFPage_CountObjects(page),
        lambda at: pdfium.FPDFPage_GetObject(page, at),
        (1.0, 0.0, 0.0, 1.0, 0.0, 0.0),
        0,
    )


def _moved(m: tuple[float, ...], x: float, y: float) -> tuple[float, float]:
    return m[0] * x + m[2] * y + m[4], m[1] * x + m[3] * y + m[5]


def _after(outer: tuple[float, ...], m: Any) -> tuple[float, ...]:
    """The matrix that does ``m`` and then ``outer``."""
    x, y = _moved(outer, m.e, m.f)
    return (
        outer[0] * m.a + outer[2] * m.b, outer[1] * m.a + outer[3] * m.b,
        outer[0] * m.c + outer[2] * m.d, outer[1] * m.c + outer[3] * m.d, x, y,
    )  # fmt: skip
