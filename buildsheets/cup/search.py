"""A figure that rises with an amount goes in; the largest amount not over comes out."""

from collections.abc import Callable


def largest_within(over: Callable[[float], float], low: float, high: float) -> float:
    """The largest amount from ``low`` to ``high`` that is not over: ``over`` rises with the amount
    and is 0 or less up to it. ``low`` itself if that is over.

    Regula falsi with the Illinois step (Dowell and Jarratt 1971): ``over`` is a line in pieces, so
    a few calls do.
    """
    at_low, at_high = over(low), over(high)
    if at_low >= 0.0:
        return low
    if at_high <= 0.0:
        return high
    side = 0
    while high - low > 1e-10:
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        if not low < middle < high:
            middle = 0.5 * (low + high)
            if not low < middle < high:
                break
        found = over(middle)
        if found <= 0.0:
            if found > -1e-10:
                return middle
            low, at_low = middle, found
            at_high = 0.5 * at_high if side < 0 else at_high
            side = -1
        else:
            high, at_high = middle, found
            at_low = 0.5 * at_low if side > 0 else at_low
            side = 1
    return low
