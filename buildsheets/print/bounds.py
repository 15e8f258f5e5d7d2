"""A shop's own layouts go in; a bound of time and memory for what is made with them comes out.

What a template or a style may ask for has no end: loops in loops, letters as high as a house. Ours
are trusted, and tested.
"""

from __future__ import annotations

import contextlib
import signal
import sys
import threading
from collections.abc import Iterator
from types import FrameType

from buildsheets.print.layouts import Layouts

# A document of fifteen dense cards takes some 2 s and 100 MB (tests/bench); how much more than that
# is no card any more is common practice, no source.
MOST_S = 30.0
MOST_BYTES = 1_000_000_000


class LayoutTooMuch(Exception):
    """A document of the shop's own layouts was given up."""


@contextlib.contextmanager
def bounded(layouts: Layouts) -> Iterator[None]:
    """Give up what takes too much processor time or memory, where the layouts are the shop's own.

    Raises ``LayoutTooMuch``. Bounds nothing on systems without such limits, nor in a thread.
    """
    main_thread = threading.current_thread() is threading.main_thread()
    if layouts.own is None or sys.platform == "win32" or not main_thread:
        yield
        return
    import resource

    def give_up(number: int, frame: FrameType | None) -> None:
        raise LayoutTooMuch(f"one document took more than {MOST_S:.0f} s")

    heard = signal.signal(signal.SIGVTALRM, give_up)
    least, most = resource.getrlimit(resource.RLIMIT_DATA)
    bound = MOST_BYTES + 1024 * resource.getrusage(resource.RUSAGE_SELF).ru_maxrss  # kB on Linux
    if least != resource.RLIM_INFINITY:
        bound = min(bound, least)
    resource.setrlimit(resource.RLIMIT_DATA, (bound, most))
    signal.setitimer(signal.ITIMER_VIRTUAL, MOST_S)
    try:
        yield
    except MemoryError as error:
        message = f"one document took more than {MOST_BYTES / 1e6:.0f} MB of memory"
        raise LayoutTooMuch(message).with_traceback(error.__traceback__) from None
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, heard)
        resource.setrlimit(resource.RLIMIT_DATA, (least, most))
