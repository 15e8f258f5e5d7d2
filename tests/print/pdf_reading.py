"""What tests of printed cards ask of a PDF: texts, letter sizes, places of texts, errors."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pypdfium2
import pypdfium2.raw as raw

from buildsheets.findings.finding import Severity
from buildsheets.print.document import maker
from buildsheets.print.fonts import MM_PER_PT
from buildsheets.print.render import Printed, RenderOptions


def errors(printed: Printed) -> list[str]:
    return [f.code for f in printed.findings if f.severity is Severity.ERROR]


def page_texts(pdf: bytes) -> list[str]:
    return [
        page.get_textpage().get_text_range().replace("\u00a0", " ").replace("\r\n", " ")
        for page in pypdfium2.PdfDocument(pdf)
    ]


@dataclass(frozen=True)
class Letter:
    """A printed letter, its type size in pt and where its origin is, mm from the top left."""

    char: str
    size_pt: float
    x_mm: float
    y_mm: float


def letters_of(pdf: bytes, page: int = 0) -> Iterator[Letter]:
    held = pypdfium2.PdfDocument(pdf)[page]
    text, high = held.get_textpage(), held.get_height()
    matrix = raw.FS_MATRIX()
    x, y = raw.c_double(), raw.c_double()
    for place in range(text.count_chars()):
        char = text.get_text_range(place, 1)
        if char.strip():
            raw.FPDFText_GetMatrix(text, place, matrix)
            raw.FPDFText_GetCharOrigin(text, place, x, y)
            size = raw.FPDFText_GetFontSize(text, place) * abs(matrix.d)
            yield Letter(char, size, x.value * MM_PER_PT, (high - y.value) * MM_PER_PT)


def place_of(pdf: bytes, words: str, page: int = 0) -> tuple[float, float]:
    """Where a text begins on a page: x and y of its first letter, mm from the top left."""
    printed = list(letters_of(pdf, page))
    said = "".join(letter.char for letter in printed)
    at = said.index("".join(words.split()))
    return printed[at].x_mm, printed[at].y_mm


def text_boxes(pdf: bytes, page: int = 0) -> list[tuple[float, float, float, float, str]]:
    """Pieces of text on a line and pictures: left, top, right, bottom in mm, and what it is."""
    held = pypdfium2.PdfDocument(pdf)[page]
    text, high = held.get_textpage(), held.get_height()
    boxes = []
    for number in range(text.count_rects()):
        left, bottom, right, top = text.get_rect(number)
        said = text.get_text_bounded(left, bottom, right, top)
        mm = (left, high - top, right, high - bottom)
        boxes.append((*(side * MM_PER_PT for side in mm), said))
    for held_object in held.get_objects(filter=[raw.FPDF_PAGEOBJ_IMAGE], max_depth=4):
        left, bottom, right, top = held_object.get_bounds()
        mm = (left, high - top, right, high - bottom)
        boxes.append((*(side * MM_PER_PT for side in mm), "QR code"))
    return boxes  # type: ignore[return-value]


def pixels(pdf: bytes, dpi: float, page: int = 0) -> np.ndarray:
    """A page in grey, 0 black to 255 white."""
    bitmap = pypdfium2.PdfDocument(pdf)[page].render(scale=dpi / 72, grayscale=True)
    return np.asarray(bitmap.to_numpy()).reshape(bitmap.height, bitmap.width)


def colours(pdf: bytes) -> set[tuple[int, int, int]]:
    image = pypdfium2.PdfDocument(pdf)[0].render(scale=3).to_pil().convert("RGB")
    return {colour for _, colour in image.getcolors(1 << 22) or []}


def own_layout(folder: Path, name: str, text: str | bytes) -> RenderOptions:
    """Options with a file of the shop's own put into its layout folder."""
    target = folder / name
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(text if isinstance(text, bytes) else text.encode())
    maker.cache_clear()  # a run reads a layout once
    return RenderOptions(layouts=folder)
