"""Contents that are too much go in; the most of one item that fits comes out.

Used to leave out base, and to suggest less ice, topping or cap.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

from buildsheets.cup.contents import Contents, Item, add_up, levels
from buildsheets.cup.cup import FIT_TOLERANCE_ML, Cup
from buildsheets.cup.errors import FigureError, positive
from buildsheets.cup.fill import checked_working_ml

Verdict = Literal["fits", "fluid_fits", "lid_fits", "simple_rule_fits"]


@dataclass(frozen=True, slots=True)
class HoldBack:
    """The most of one item that keeps a verdict; ml of a liquid, g of anything else.

    ``most`` is exact and never above ``written``; ``most_to_step`` is rounded down to the step of
    the tool, but is ``written`` itself when all of it fits. Both are None if even 0 does not fit.
    """

    verdict: Verdict
    written: float
    most: float | None
    most_to_step: float | None

    @property
    def possible(self) -> bool:
        return self.most is not None

    @property
    def held_back(self) -> float | None:
        """Written less ``most_to_step``: what to leave out."""
        return None if self.most_to_step is None else self.written - self.most_to_step


def hold_back(
    cup: Cup,
    items: Iterable[Item],
    index: int,
    *,
    working_ml: float | None = None,
    verdict: Verdict = "fits",
    step: float | None = None,
    at_most: float | None = None,
) -> HoldBack:
    """The largest amount of ``items[index]``, up to the written one, for which ``verdict`` holds.

    ``step`` is that of the tool in the item's unit (None: do not round). ``at_most`` replaces the
    written amount as the upper bound, to ask how much more would fit.
    """
    if verdict not in _EXCESS:
        raise FigureError("verdict", verdict, f"must be one of {', '.join(_EXCESS)}")
    items = tuple(items)
    if not 0 <= index < len(items):
        raise FigureError("index", index, "there is no such item")
    if step is not None:
        positive("step", step)
    working = checked_working_ml(cup, working_ml)
    written = items[index].amount if at_most is None else positive("at_most", at_most)
    over = _EXCESS[verdict]

    def excess(amount: float) -> float:
        changed = (*items[:index], items[index].with_amount(amount), *items[index + 1 :])
        return over(add_up(changed)) - working

    if excess(written) <= FIT_TOLERANCE_ML:
        return HoldBack(verdict, written, written, written)
    if excess(0.0) > FIT_TOLERANCE_ML:
        return HoldBack(verdict, written, None, None)
    most = _last_within(excess, written)
    rounded = most if step is None else math.floor(most / step + 1e-9) * step
    return HoldBack(verdict, written, most, rounded)


def _last_within(excess: Callable[[float], float], high: float) -> float:
    """The amount below ``high`` at which the excess, which rises with the amount, reaches 0."""
    low = 0.0
    while high - low > 1e-12 * high:
        middle = 0.5 * (low + high)
        if not low < middle < high:
            break
        if excess(middle) <= 0:
            low = middle
        else:
            high = middle
    return low


def _fits(contents: Contents) -> float:
    return levels(contents).top


def _fluid_fits(contents: Contents) -> float:
    at = levels(contents)
    return max(at.liquid, at.cap_top)


def _lid_fits(contents: Contents) -> float:
    return max(contents.sum_ml, contents.bed_ml + contents.ice_bulk_ml)


def _simple_rule_fits(contents: Contents) -> float:
    return contents.sum_ml


_EXCESS: dict[Verdict, Callable[[Contents], float]] = {
    "fits": _fits,
    "fluid_fits": _fluid_fits,
    "lid_fits": _lid_fits,
    "simple_rule_fits": _simple_rule_fits,
}
