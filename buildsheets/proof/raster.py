"""A page's raster in; lengths of proof bars, gauge marks, ink at the edges and QR texts out.

Everything is measured from what a viewer would print, not from what the file says it draws.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from buildsheets.print.gauge import PROOF_BAR_MM, TICK_MM

MM_PER_INCH = 25.4

# Half of full ink counts as dark; a watermark is lighter.
DARK = 128
_RUN = re.compile(rb"\x01+")
_TO_BITS = bytes(1 if level < DARK else 0 for level in range(256))


@dataclass(frozen=True)
class Raster:
    """A page in grey: a byte a pixel, row by row."""

    pixels: bytes
    width: int
    height: int
    dpi: float

    @classmethod
    def of(cls, image: Any, dpi: float) -> Raster:
        """That of a grey picture."""
        width, height = image.size
        return cls(image.tobytes(), width, height, dpi)

    @cached_property
    def image(self) -> Any:
        """The same as a picture."""
        from PIL import Image

        return Image.frombuffer("L", (self.width, self.height), self.pixels, "raw", "L", 0, 1)

    @property
    def per_mm(self) -> float:
        """Pixels a mm."""
        return self.dpi / MM_PER_INCH

    def row(self, y: int) -> bytes:
        """A row: 1 dark, 0 light."""
        return self.pixels[y * self.width : (y + 1) * self.width].translate(_TO_BITS)

    def is_dark(self, x: int, y: int) -> bool:
        """Whether a pixel is dark."""
        return self.pixels[y * self.width + x] < DARK


def bar_lengths_mm(page: Raster) -> list[float]:
    """Length of every level bar between 40 and 60 mm that ends in ticks both ways, outer edges.

    Ends are taken to a part of a pixel from their greys.
    """
    per_mm = page.per_mm
    tick = round(0.8 * per_mm)
    least = round(0.8 * PROOF_BAR_MM * per_mm)
    needle = b"\x01" * least
    # A bar crosses one of these columns; only rows with ink there can hold it.
    columns = [
        page.pixels[x :: page.width].translate(_TO_BITS)
        for x in range(least - 1, page.width, least)
    ]
    inked = {y for column in columns for run in _RUN.finditer(column) for y in range(*run.span())}
    found: list[float] = []
    last = -tick
    for y in sorted(inked):
        if y - last < tick or not tick <= y < page.height - tick:
            continue
        for start, end in _runs(page.row(y), needle):
            if (end - start) / per_mm > 1.2 * PROOF_BAR_MM:
                continue
            both = (y - tick, y + tick)
            ends = all(page.is_dark(x, at) for at in both for x in (start + 1, end - 2))
            if ends and not any(page.is_dark((start + end) // 2, at) for at in both):
                more = _part(page, start - 1, start, y) + _part(page, end, end - 1, y)
                found.append((end - start + more) / per_mm)
                last = y
    return found


def _runs(bits: bytes, needle: bytes) -> Iterator[tuple[int, int]]:
    """Dark stretches of a row that are at least as long as ``needle``."""
    start = bits.find(needle)
    while start >= 0:
        end = bits.find(b"\x00", start)
        end = len(bits) if end < 0 else end
        yield start, end
        start = bits.find(needle, end)


def _part(page: Raster, outer: int, inner: int, y: int) -> float:
    """How much more (or less) than the whole dark pixels an end covers, from the greys there."""
    inked = [(255 - page.pixels[y * page.width + x]) / 255 if 0 <= x < page.width else 0.0
             for x in (outer, inner)]  # fmt: skip
    return sum(inked) - 1.0


Stretch = tuple[float, float]  # from and to, in mm down from the top


def gauge_ink_mm(page: Raster) -> list[Stretch]:
    """Stretches of ink that cross the edge gauge's marks, from the top down."""
    per_mm = page.per_mm
    # Broken marks have ink from 2.2 to 3.8 mm of their 6.
    columns = [round(TICK_MM * share * per_mm) for share in (0.42, 0.5, 0.58)]
    strips = [page.pixels[x :: page.width] for x in columns]
    line = bytes(max(levels) for levels in zip(*strips, strict=True)).translate(_TO_BITS)
    return [(run.start() / per_mm, run.end() / per_mm) for run in _RUN.finditer(line)]


def farthest_mm(stretch: Stretch, others: Sequence[Stretch]) -> float:
    """How far the loneliest point of a stretch is from all the others; infinite without any.

    Asked both ways, of marks and of ink, it tells whether they are the same (the two halves of
    the Hausdorff distance), also where marks run together into one stretch of ink.
    """
    start, end = stretch
    between = ((one[1] + two[0]) / 2 for one in others for two in others)
    points = (start, end, *(point for point in between if start < point < end))
    return max(
        min((max(low - point, point - high, 0.0) for low, high in others), default=float("inf"))
        for point in points
    )


def inked_edges(page: Raster, safe_mm: float) -> list[str]:
    """Which of the top, right and bottom edges have ink within ``safe_mm``; the left edge is the
    gauge's."""
    band = round(safe_mm * page.per_mm)
    width, height = page.width, page.height
    boxes = {
        "top": (0, 0, width, band),
        "right": (width - band, 0, width, height),
        "bottom": (0, height - band, width, height),
    }
    # The gauge's bar stands on the bottom edge at the left.
    left = round((TICK_MM + 1) * page.per_mm)
    boxes["bottom"] = (left, height - band, width, height)
    boxes["top"] = (left, 0, width, band)
    image = page.image
    return [name for name, box in boxes.items() if image.crop(box).getextrema()[0] < DARK]


def qr_texts(page: Raster) -> list[str]:
    """What the QR codes of a page say."""
    import zxingcpp

    image = memoryview(page.pixels).cast("B", (page.height, page.width))
    # One threshold for the whole page takes a third of the time; pages with much grey need one
    # for each part of it.
    for binarizer in (zxingcpp.Binarizer.GlobalHistogram, zxingcpp.Binarizer.LocalAverage):
        found = zxingcpp.read_barcodes(
            image,
            formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode),
            binarizer=binarizer,
            try_downscale=False,
            try_invert=False,
        )
        if found:
            return [code.text for code in found]
    return []
