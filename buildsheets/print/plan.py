"""Texts, shapes and pictures placed in mm: the plain records a laid-out card is made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from buildsheets.print.art import Shape
from buildsheets.print.fonts import MM_PER_PT
from buildsheets.print.legibility import Line
from buildsheets.print.qr import QrCode
from buildsheets.views.paper import Stock
from buildsheets.views.prep_views import AnyView


class Text(NamedTuple):
    """A box of ready-broken lines: top left corner and width in mm, size in pt.

    ``leading`` is the distance of lines as a multiple of the type size. A named tuple, since the
    search for a size makes thousands of them a card.
    """

    kind: str
    x_mm: float
    y_mm: float
    width_mm: float
    points: float
    leading: float
    lines: tuple[Line, ...]
    align: str = "left"
    ink: str = ""
    tab_mm: float = 0.0

    @property
    def height_mm(self) -> float:
        """Height of all lines, each as high as its largest type asks."""
        points = 0.0
        for line in self.lines:
            sizes = [run.points or self.points for run in line]
            points += max(sizes) if sizes else self.points
        return points * self.leading * MM_PER_PT

    def moved(self, dx_mm: float, dy_mm: float) -> Text:
        """The same text elsewhere."""
        return Text(
            self.kind, self.x_mm + dx_mm, self.y_mm + dy_mm, self.width_mm, self.points,
            self.leading, self.lines, self.align, self.ink, self.tab_mm,
        )  # fmt: skip


class Block(NamedTuple):
    """Texts and shapes that move together, and the height they take in mm."""

    texts: tuple[Text, ...] = ()
    shapes: tuple[Shape, ...] = ()
    height_mm: float = 0.0

    def moved(self, dx_mm: float, dy_mm: float) -> Block:
        """The same block elsewhere."""
        if not (dx_mm or dy_mm):
            return self
        return Block(
            tuple([text.moved(dx_mm, dy_mm) for text in self.texts]),
            tuple([shape.moved(dx_mm, dy_mm) for shape in self.shapes]),
            self.height_mm,
        )


def together(blocks: Sequence[Block], height_mm: float) -> Block:
    """Blocks that are already in place, as one."""
    return Block(
        tuple([text for block in blocks for text in block.texts]),
        tuple([shape for block in blocks for shape in block.shapes]),
        height_mm,
    )


def stacked(blocks: Sequence[Block], gap_mm: float) -> Block:
    """Blocks one under the other; empty ones leave no gap."""
    placed: list[Block] = []
    y = 0.0
    for block in blocks:
        if not block.height_mm:
            continue
        y += gap_mm if placed else 0.0
        placed.append(block.moved(0, y))
        y += block.height_mm
    return together(placed, y)


def stacked_mm(blocks: Sequence[Block], gap_mm: float) -> float:
    """Height of :func:`stacked` blocks."""
    y = 0.0
    for block in blocks:
        if block.height_mm:
            y += gap_mm if y else 0.0
            y += block.height_mm
    return y


@dataclass(frozen=True, slots=True)
class Zone:
    """A named part of a card, which a layout places as one."""

    name: str
    texts: tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """A QR code on the card: place in mm and what it says."""

    code: QrCode
    x_mm: float
    y_mm: float
    alt: str


@dataclass(frozen=True, slots=True)
class Plan:
    """One card ready to print: every text broken and placed, drawings, and the reading size."""

    view: AnyView
    title: str
    stock: Stock
    arcmin: float
    part: int
    parts: int
    zones: tuple[Zone, ...]
    shapes: tuple[Shape, ...]
    alt: str
    qr: Picture | None

    def zone(self, name: str) -> Zone:
        """A zone by name."""
        return next(zone for zone in self.zones if zone.name == name)
