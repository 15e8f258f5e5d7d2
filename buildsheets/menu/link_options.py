"""Options linked: the written sweetness, ice and add-on rules in, what drinks may offer out."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.findings.finding import Fix
from buildsheets.findings.spelling import listed
from buildsheets.menu.linking import Linker, text
from buildsheets.menu.model import IceLevels, Sweetness
from buildsheets.menu.written_drinks import WrittenIceLevels, WrittenOptions, WrittenSweetness

ADD_ONS_MOST = 2
"""More than two add-ons at once are not figured: the trade sells one or two (common practice,
no source), and the number of combinations grows as their power."""


@dataclass(frozen=True, slots=True)
class Offer:
    """The options a drink offers unless it says otherwise."""

    sweetness: Sweetness | None
    ice: IceLevels | None
    add_ons_at_most: int
    hold_back_most_share: float


def offer(link: Linker, w: WrittenOptions | None) -> Offer:
    """The shop-wide options; none where none are written."""
    if w is None:
        return Offer(None, None, 0, 0.0)
    at_most = 0
    if w.add_ons is not None:
        at_most = w.add_ons.at_most.value
        if not 0 <= at_most <= ADD_ONS_MOST:
            link.error(
                "OPT01",
                w.add_ons.at_most.span,
                f"at_most is {at_most}; from 0 to {ADD_ONS_MOST} add-ons can be checked at once",
                fixes=(Fix(f"write {ADD_ONS_MOST}", w.add_ons.at_most.span, str(ADD_ONS_MOST)),),
            )
            at_most = ADD_ONS_MOST
    share = None
    if w.add_ons is not None:
        share = link.within(
            w.add_ons.hold_back_at_most, "the base held back", 0.0, 1.0, "from 0 to 100 %"
        )
    return Offer(
        _sweetness(link, w.sweetness) if w.sweetness else None,
        _ice_levels(link, w.ice) if w.ice else None,
        at_most,
        share or 0.0,
    )


def _sweetness(link: Linker, w: WrittenSweetness) -> Sweetness:
    levels = [
        level.value.value
        for level in w.levels
        if link.within(level, "a sweetness level", 0.0, 3.0, "from 0 to 300 %") is not None
    ]
    default = w.default.value.value
    if default not in levels:
        link.error(
            "OPT02",
            w.default.span,
            f"the default {w.default.raw} is not one of the levels",
            hint=f"levels: {listed([level.raw for level in w.levels])}",
        )
    return Sweetness(tuple(levels), default, w.make_up.value, w.span)


def _ice_levels(link: Linker, w: WrittenIceLevels) -> IceLevels | None:
    levels: dict[str, float] = {}
    names = {}
    for key, level in w.levels.items.items():
        share = link.within(level.share, "the share of ice", 0.0, 2.0, "from 0 to 200 %")
        if share is not None:
            levels[key], names[key] = share, text(level.name)
    default = w.default.value
    link.find(w.default, levels, "ice level", w.levels.lost(levels))
    if not levels:
        return None
    if default not in levels:
        default = next(iter(levels))
    return IceLevels(levels, names, default, w.keep.value, w.span)
