"""A page and the texts a card must show in; what of its texts cannot be read, out.

A text is read if it has ink that stands out from its ground, is on the page, is not too small,
and has no other text over it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from buildsheets.print.sizes import FLOOR_ARCMIN, HAND_DISTANCE_MM, PREFERRED_ARCMIN, size_pt
from buildsheets.proof.page import Box, Page, Text
from buildsheets.proof.raster import MM_PER_INCH

# WCAG 2.2, 1.4.3: the least contrast of large letters. Thin strokes come out greyer in a raster.
LEAST_CONTRAST = 3.0
# A mark under other texts is paler: ours has 1.37 on white, covers 9 to 20 % of its box and is half
# as wide as its card; what is seen from across a room is common practice, no source.
LEAST_MARK_CONTRAST, LEAST_INK, LEAST_MARK = 1.2, 0.02, 0.25
# A text is looked at in pieces of about two letters, so that none of it may be covered.
PIECE_EM = 2.0
SIZE_TOLERANCE = 0.98  # rounding of type sizes in the file
OVER_MM = 0.4  # letters of two texts may touch, not cross
MM_PER_PT = MM_PER_INCH / 72

_LINEAR = [
    level / 255 / 12.92 if level <= 10 else ((level / 255 + 0.055) / 1.055) ** 2.4
    for level in range(256)
]


@dataclass(frozen=True, slots=True)
class ExpectedTexts:
    """What a card must show, and how it is read.

    ``each`` stands on every card of a view that was split, ``once`` on one of them, as often as it
    is named. ``view`` are all its strings, ``foot`` those read with the card in hand, and
    ``watermark`` lies under the others and may be pale.
    """

    each: tuple[str, ...] = ()
    once: tuple[str, ...] = ()
    view: tuple[str, ...] = ()
    foot: tuple[str, ...] = ()
    watermark: str = ""
    distance_mm: float = HAND_DISTANCE_MM
    capitals_em: float = 0.0  # of the typeface; ours unless told


def missing(expected: ExpectedTexts, pages: Sequence[Page]) -> Iterator[str]:
    """Strings that stand on the pages of a card less often than they must.

    What is part of a longer string of the view does not count: "milk" in "whole milk".
    """
    times: dict[str, int] = {}
    named: dict[str, str] = {}
    for texts, count in ((expected.each, len(pages)), (expected.once, 1)):
        for text in texts:
            key = text.casefold()
            times[key] = times.get(key, 0) + count
            named.setdefault(key, text)
    longer = [text for text in dict.fromkeys((*expected.view, *expected.foot)) if text]
    spans: list[set[tuple[int, int]]] = [
        {(place.first, place.end) for text in longer for place in page.find(text)} for page in pages
    ]
    for key, text in named.items():
        found = 0
        for page, held in zip(pages, spans, strict=True):
            for place in page.find(text):
                found += not any(
                    first <= place.first
                    and place.end <= end
                    and end - first > place.end - place.first
                    for first, end in held
                )
        if found < times[key]:
            yield text


def hidden(page: Page, watermark: str = "") -> Iterator[Text]:
    """Texts without ink that stands out, or off the page."""
    pale = {place.first for place in page.find(watermark)}
    pale_texts = {page.words[first].text for first in pale}
    for number, text in enumerate(page.texts):
        if number in pale_texts and len(text.text.strip()) == len(watermark):
            shows = _marks(text, page)
        else:
            shows = not text.is_upright or _shows(text, page)
        if not shows:
            yield text


def _marks(text: Text, page: Page) -> bool:
    """Whether a pale word under the others can be seen from afar: large, and its grey, which is
    neither that of the paper nor covered, on part of its box."""
    box, per_mm = text.box, page.dpi / MM_PER_INCH
    if box.right - box.left < LEAST_MARK * page.width_mm:
        return False
    if 1.05 / (_LINEAR[text.grey] + 0.05) < LEAST_MARK_CONTRAST:
        return False
    edges = [round(edge * per_mm) for edge in (box.left, box.top, box.right, box.bottom)]
    counts = page.raster.image.crop(edges).histogram()
    return bool(sum(counts[max(0, text.grey - 2) : text.grey + 3]) >= LEAST_INK * sum(counts))


def _shows(text: Text, page: Page) -> bool:
    box = text.box
    inside = box.left >= -0.1 and box.right <= page.width_mm + 0.1
    if not (inside and box.top >= -0.1 and box.bottom <= page.height_mm + 0.1):
        return False
    per_mm = page.dpi / MM_PER_INCH
    wide = box.right - box.left
    pieces = max(1, int(wide / (PIECE_EM * max(text.size_pt, 1.0) * MM_PER_PT)))
    top, bottom = int(box.top * per_mm), int(box.bottom * per_mm) + 1
    edges = [int((box.left + wide * at / pieces) * per_mm) for at in range(pieces + 1)]
    for left, right in pairwise(edges):
        dark, light = page.raster.image.crop((left, top, right + 1, bottom)).getextrema()
        if (_LINEAR[light] + 0.05) / (_LINEAR[dark] + 0.05) < LEAST_CONTRAST:
            return False
    return True


def too_small(expected: ExpectedTexts, page: Page) -> Iterator[tuple[Text, float]]:
    """Texts smaller than can be read from where they are read, each with the least size in pt."""
    hand = size_pt(HAND_DISTANCE_MM, PREFERRED_ARCMIN, expected.capitals_em)
    floor = size_pt(expected.distance_mm, FLOOR_ARCMIN, expected.capitals_em)
    of_view, of_foot = _covered(expected.view, page), _covered(expected.foot, page)
    far = {word.text for word in page.words}
    for number, word in enumerate(page.words):
        if number in of_foot or (number not in of_view and any(map(str.isalnum, word.letters))):
            far.discard(word.text)
    for run in page.runs:  # what another font, direction or a mark parts is read as one
        texts = [page.texts[number] for number in run]
        weights = {text.font.is_bold for text in texts}
        fonts = {text.font for text in texts}
        parted = page.is_rtl or len(fonts) > 1 or any(text.is_mark for text in texts)
        if parted and len(weights) == 1 and not far.issuperset(run):
            far.difference_update(run)
    for number, text in enumerate(page.texts):
        least = floor if number in far else min(floor, hand)
        if text.is_upright and text.size_pt < least * SIZE_TOLERANCE:
            yield text, least


def _covered(texts: Sequence[str], page: Page) -> set[int]:
    """Words that are of any of these strings."""
    places = [place for text in dict.fromkeys(texts) for place in page.find(text)]
    return {word for place in places for word in range(place.first, place.end)}


def crossing(page: Page) -> Iterator[tuple[Text, Text]]:
    """Pairs of texts that print over each other."""
    upright = (text for text in page.texts if text.is_upright and not text.is_mark)
    texts = sorted(upright, key=lambda one: one.box.top)
    for number, one in enumerate(texts):
        for other in texts[number + 1 :]:
            if other.box.top > one.box.bottom - OVER_MM:
                break
            if _cross(one.box, other.box):
                yield one, other


def _cross(one: Box, other: Box) -> bool:
    return (
        min(one.right, other.right) - max(one.left, other.left) > OVER_MM
        and min(one.bottom, other.bottom) - max(one.top, other.top) > OVER_MM
    )
