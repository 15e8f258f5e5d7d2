"""What the gauge strip of a cup shows: frozen views of shown strings, nothing computed.

As in :mod:`buildsheets.views.views`: every string is final, rounded and in the reader's language.
The add-on card is a :class:`~buildsheets.views.prep_views.SheetView` of kind "addons".
"""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.views.views import Foot, GaugeLine


@dataclass(frozen=True, slots=True)
class RackLine:
    """One mark of the strip: the line, its height in words, and the drinks poured to it."""

    line: GaugeLine
    height: str  # "82 mm up"
    drinks: tuple[str, ...]  # none for the fill limit and the rim


@dataclass(frozen=True, slots=True)
class GaugeStripView:
    """All fill lines of one cup at 1:1, to stand in the rack beside its cups."""

    kind: str  # "gauge"
    language: str
    code: str
    title: str  # what it is, in lists: "Edge gauge"
    size_name: str  # the cup, printed largest
    subtitle: str
    rows: tuple[RackLine, ...]
    gauge_floor_mm: float
    foot: Foot
    reading_distance_mm: float
    width_mm: float
    height_mm: float
    watermark: str = ""

    @property
    def gauge(self) -> tuple[GaugeLine, ...]:
        """The marks, lowest first."""
        return tuple(row.line for row in self.rows)
