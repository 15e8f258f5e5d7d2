"""Sections of a card that goes on several pages in; each laid out, now or in an earlier run, out.

When a drink changes, few pages of such a card do: what comes of each is kept by what stands on it.
"""

from __future__ import annotations

import gc
import io
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import astuple, dataclass, fields
from functools import partial
from itertools import islice, pairwise

from buildsheets.print.cache import Cache
from buildsheets.print.document import Section, Setting
from buildsheets.print.engine import Box, LaidOut, Page
from buildsheets.views.card import digest_of
from buildsheets.views.types import View

MOST_TOGETHER = 16  # sections in a document, which takes about 6 MB of memory for each

SET = tuple(one.name for one in fields(Setting) if one.name != "layouts")
"""What a page's setting is told by."""

Document = Callable[[Sequence[Section]], LaidOut]


@dataclass(frozen=True, slots=True)
class Kept:
    """Where parts of cards are kept from run to run; ``base`` is what shapes them all."""

    cache: Cache | None = None
    base: str = ""

    def get(self, key: str) -> bytes | None:
        """What an earlier run put there."""
        return self.cache.get(f"{key} {self.base}") if self.cache else None

    def put(self, key: str, data: bytes) -> None:
        """Keep something for later runs."""
        if self.cache:
            self.cache.put(f"{key} {self.base}", data)


NOTHING = Kept()


@dataclass(frozen=True, slots=True)
class Part:
    """A section as it was laid out: its page, or several where it is too high, and its text."""

    pages: tuple[Page, ...]
    text: str
    write: Callable[[], bytes]  # its PDF. Raises ``EngineComplaint``

    def to_bytes(self) -> bytes:
        """What is known of it before it is written, for the cache."""
        boxes = [{name: astuple(box) for name, box in page.boxes.items()} for page in self.pages]
        sizes = [(page.width_mm, page.height_mm) for page in self.pages]
        return json.dumps([self.text, sizes, boxes]).encode()

    @classmethod
    def from_bytes(cls, data: bytes, write: Callable[[], bytes]) -> Part:
        """What :meth:`to_bytes` made."""
        text, sizes, boxes = json.loads(data)
        pages = (
            Page(width, height, {name: Box(*sides) for name, sides in of_page.items()})
            for (width, height), of_page in zip(sizes, boxes, strict=True)
        )
        return cls(tuple(pages), text, write)


@dataclass(frozen=True)
class Parts:
    """The sections of one card as they were laid out, in order."""

    parts: tuple[Part, ...]

    @property
    def pages(self) -> tuple[Page, ...]:
        """All of their pages."""
        return tuple(page for part in self.parts for page in part.pages)

    @property
    def texts(self) -> tuple[str, ...]:
        """The text of each."""
        return tuple(part.text for part in self.parts)

    def pdf(self, first: int = 0, end: int | None = None) -> bytes:
        """All of their pages, which are asked for together. Raises ``EngineComplaint``."""
        import pikepdf

        assert (first, end) in ((0, None), (0, len(self.pages)))
        with pikepdf.new() as together:
            for part in self.parts:
                with pikepdf.open(io.BytesIO(part.write())) as one:
                    together.pages.extend(one.pages)
            buffer = io.BytesIO()
            together.save(buffer, deterministic_id=True)
        return buffer.getvalue()


def laid_parts(
    sections: Sequence[Section], setting: Setting, document: Document, kept: Kept
) -> Parts:
    """The sections of one card: as they are kept, or else laid out by ``document``. Raises what
    that raises."""
    keys = [_key(section, setting) for section in sections]
    parts: dict[str, Part] = {}
    for key, section in zip(keys, sections, strict=True):
        if data := kept.get(key):
            parts[key] = Part.from_bytes(data, partial(_alone, key, section, document, kept))
    missing = {key: s for key, s in zip(keys, sections, strict=True) if key not in parts}
    at_once = len(missing) > MOST_TOGETHER
    while missing:
        some = dict(islice(missing.items(), MOST_TOGETHER))
        parts |= _laid(some, document, kept, at_once)
        missing = {key: section for key, section in missing.items() if key not in some}
        if at_once:
            gc.collect(0)  # all that was made since: collecting is off while cards are laid out
    return Parts(tuple(parts[key] for key in keys))


def _laid(
    sections: Mapping[str, Section], document: Document, kept: Kept, at_once: bool
) -> dict[str, Part]:
    """Sections laid out in one document; written ``at_once``, so that it need not be held."""
    laid = document([*sections.values()])
    firsts = [first_page(laid.pages, section.name(), section.view) for section in sections.values()]
    parts = {}
    for key, text, (first, end) in zip(
        sections, laid.texts, pairwise([*firsts, len(laid.pages)]), strict=True
    ):
        write = partial(_written, key, kept, partial(laid.pdf, first, end))
        part = Part(laid.pages[first:end], text, partial(bytes, write()) if at_once else write)
        kept.put(key, part.to_bytes())
        parts[key] = part
    return parts


def _alone(key: str, section: Section, document: Document, kept: Kept) -> bytes:
    """The PDF of a section that is kept, be it as laid out only."""
    return _written(key, kept, lambda: document([section]).pdf())


def _written(key: str, kept: Kept, write: Callable[[], bytes]) -> bytes:
    data = kept.get(f"{key} pdf")
    if data is None:
        data = write()
        kept.put(f"{key} pdf", data)
    return data


def _key(section: Section, setting: Setting) -> str:
    # The layouts are in the base of what is kept.
    return digest_of([section, *(getattr(setting, name) for name in SET)])


def first_page(pages: Sequence[Page], name: str, view: View) -> int:
    """On which of the pages a card begins."""
    for number, page in enumerate(pages):
        if name in page.boxes:
            return number
    raise ValueError(f"the layout of {view.kind} cards leaves out the frame of the card")
