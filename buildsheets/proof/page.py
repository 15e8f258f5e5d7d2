"""A page of an opened PDF in; its texts with their places, and its raster, out.

Read from the finished file alone: nothing here knows how a card is composed. Lengths in mm from
the page's top left corner.
"""

from __future__ import annotations

import ctypes
import re
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import accumulate
from typing import Any
from unicodedata import category

from buildsheets.print import checks
from buildsheets.print.fonts import MM_PER_PT
from buildsheets.proof.raster import Raster
from buildsheets.views.words import runs_against

_MOST_DEEP = 8  # forms within forms
# Scripts that write no spaces between words: Thai to Myanmar, Khmer, kana and Han.
_UNSPACED = "\u0e00-\u0eff\u1000-\u109f\u1780-\u17ff\u3040-\u30ff\u3400-\u9fff\uf900-\ufaff"
# From the first letter or digit to the last before a space; punctuation around it by itself, and
# each letter of a script without spaces.
_WORD = re.compile(rf"[{_UNSPACED}]|[^\W{_UNSPACED}](?:[^\s{_UNSPACED}]*[^\W{_UNSPACED}])?|[^\w\s]")
# A word, number or sign in a line from right to left.
_RTL_MARKS = "\u0591-\u05c7\u0610-\u061a\u064b-\u065f\u0670"
_RTL_WORD = re.compile(rf"\d+(?:[.,:/]\d+)*|(?:[^\W\d_]|[{_RTL_MARKS}])+|[^\w\s]")
_ADJOINS_MM = 2.0  # the parts of a line that are drawn one after the other
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

    @property
    def is_bold(self) -> bool:
        """Whether its name says so."""
        return "bold" in self.name.casefold()


@dataclass(frozen=True, slots=True)
class Text:
    """Letters drawn in one go: their box (that of the ink), type size, font, whether upright, and
    how grey they are on white, from 0 for black to 255."""

    text: str
    box: Box
    size_pt: float
    font: Font
    is_upright: bool
    grey: int

    @property
    def is_mark(self) -> bool:
        """Whether it only stands over or under letters: a tone, a vowel sign."""
        return all(category(letter) == "Mn" for letter in self.text.strip())

    def adjoins(self, before: Text) -> bool:
        """Whether it goes on, to the right, where the text drawn before it ends."""
        near = abs(self.box.left - before.box.right) < _ADJOINS_MM
        level = self.is_mark or before.is_mark or self.box.is_beside(before.box)
        return near and level and abs(self.size_pt - before.size_pt) < 0.1


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
    def raster(self) -> Raster:
        """The page in grey, as a printer would."""
        bitmap = self._page.render(scale=self.dpi / 72, grayscale=True)
        return Raster(bytes(bitmap.buffer), bitmap.width, bitmap.height, self.dpi)

    def let_go_of_pixels(self) -> None:
        """Its pixels, of 4 MB, are drawn anew if they are asked for again."""
        self.__dict__.pop("raster", None)

    @cached_property
    def texts(self) -> tuple[Text, ...]:
        """Its texts in the order they are drawn; those that are hidden or off the page too."""
        return tuple(_texts(self._page))

    @cached_property
    def is_rtl(self) -> bool:
        """Whether anything on it is written from right to left."""
        return any(runs_against(text.text, False) for text in self.texts)

    @cached_property
    def words(self) -> tuple[_Word, ...]:
        """Its words; those of one text share its box by how many letters they have."""
        found = []
        pattern = _RTL_WORD if self.is_rtl else _WORD
        for number in self._reading_order():
            said, box = self.texts[number].text.strip(), self.texts[number].box
            said = checks.as_copied(said) if self.is_rtl else said
            per_letter = (box.right - box.left) / max(1, len(said))
            from_right = self.is_rtl and runs_against(said, False)
            for word in pattern.finditer(said):
                if held := letters(word[0]):
                    first, last = (at * per_letter for at in word.span())
                    left, right = (
                        (box.right - last, box.right - first)
                        if from_right
                        else (box.left + first, box.left + last)
                    )
                    found.append(_Word(held, Box(left, box.top, right, box.bottom), number))
        return tuple(found)

    @cached_property
    def runs(self) -> tuple[tuple[int, ...], ...]:
        """Numbers of the texts that are one line of one size, drawn from the left in pieces: where
        the font or the direction changes, and at each mark that stands over a letter."""
        runs: list[list[int]] = []
        for number, text in enumerate(self.texts):
            if number and text.adjoins(self.texts[number - 1]):
                runs[-1].append(number)
            else:
                runs.append([number])
        return tuple(map(tuple, runs))

    def _reading_order(self) -> Iterable[int]:
        """The texts as they are read. A line is drawn from the left, whichever way it is read."""
        if not self.is_rtl:
            return range(len(self.texts))
        return (number for run in self.runs for number in reversed(run))

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
        key = text if self.is_rtl else wanted
        if key not in self._found:
            places = self._places_any_order(text) if self.is_rtl else self._places(wanted)
            self._found[key] = tuple(places) if wanted else ()
        return self._found[key]

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

    def _places_any_order(self, text: str) -> Iterator[Place]:
        """Where the words of a text stand together on a page read from the right.

        A PDF has what is seen, from left to right; which words of a line were written first, and
        the letters of a ligature, can only be guessed from it. So they may come in any order;
        numbers are taken as they are.
        """
        said = (letters(word) for word in _RTL_WORD.findall(checks.as_copied(text)))
        wanted = sorted(unit for word in said for unit in _units(word))
        each = [_units(word.letters) for word in self.words]
        units = [unit for word in each for unit in word]
        starts = [0, *accumulate(map(len, each))]
        ends = {at: number for number, at in enumerate(starts)}
        known = set(wanted)
        for first, at in enumerate(starts[:-1]):
            end = ends.get(at + len(wanted))
            if end is None or units[at] not in known or sorted(units[at : starts[end]]) != wanted:
                continue
            box = self.words[first].box
            for word in self.words[first + 1 : end]:
                box = box.around(word.box)
            yield Place(box, first, end)


def _units(word: str) -> Sequence[str]:
    """What of a word keeps its order in a PDF from right to left: a number, else each letter."""
    return (word,) if word[:1].isdigit() else word


def _texts(page: Any) -> Iterator[Text]:
    import pypdfium2.raw as pdfium

    text_page = page.get_textpage()
    height = page.get_height()
    buffer = (ctypes.c_ushort * 1024)()
    edges = [ctypes.c_float() for _ in range(4)]
    size_pt = ctypes.c_float()
    matrix = pdfium.FS_MATRIX()
    fonts: dict[int, Font] = {}
    colour = [ctypes.c_uint() for _ in range(4)]

    def fill(item: Any) -> tuple[float, float]:
        """How light what is drawn is, of 255 (ITU-R BT.601), and how opaque, of 1."""
        if not pdfium.FPDFPageObj_GetFillColor(item, *colour):
            return 0.0, 1.0
        red, green, blue, opaque = (part.value for part in colour)
        return 0.299 * red + 0.587 * green + 0.114 * blue, opaque / 255

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
        count: int, get: Callable[[int], Any], outer: tuple[float, ...], deep: int, opaque: float
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
                    opaque * fill(item)[1],
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
                light, own = fill(item)
                grey = round(255 - (255 - light) * own * opaque)
                yield Text(text, box, size, font_of(item), upright, grey)

    yield from of(
        pdfium.FPDFPage_CountObjects(page),
        lambda at: pdfium.FPDFPage_GetObject(page, at),
        (1.0, 0.0, 0.0, 1.0, 0.0, 0.0),
        0,
        1.0,
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
