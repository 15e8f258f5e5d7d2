"""Tasks, hands and things go in; when each task starts, beside all the others, comes out.

Each task is put as late as its due time allows, the latest due first. Its pieces follow one
another without a gap. Never are more hands or things in use at once than there are; a task that
finds no place before it is due waits for the next moment that has one.

Times are whole minutes of the planned day and may lie before it. Nothing here knows a menu.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import accumulate, pairwise
from typing import NamedTuple

HANDS = ""
"""The name hands go by among the things."""

_NOISE = 1e-6


@dataclass(frozen=True, slots=True)
class Window:
    """So many pairs of hands from one minute up to another."""

    from_min: int
    to_min: int
    count: int


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a task: minutes, those of them from its start that need a person, and what it
    uses of each thing meanwhile: 1 of 3 burners, 6 of 80 litres."""

    minutes: int
    hands_min: int
    uses: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Task:
    """Work to place: ready by ``due_min`` and not before ``ready_from_min``.

    ``stands`` is (thing, amount, until): what it takes up from when it is ready.
    """

    id: str
    pieces: tuple[Piece, ...]
    due_min: int
    ready_from_min: int
    stands: tuple[str, float, int] | None = None

    @property
    def minutes(self) -> int:
        return sum(piece.minutes for piece in self.pieces)

    def starts(self, start_min: int) -> list[int]:
        """When each piece starts, and the end of the last, for a start of the first."""
        return [*accumulate((piece.minutes for piece in self.pieces), initial=start_min)]

    def works(self, start_min: int) -> Iterator[tuple[str, int, int, float]]:
        """(thing, from, to, amount) of what its pieces take."""
        for (begin, end), piece in zip(pairwise(self.starts(start_min)), self.pieces, strict=True):
            if piece.hands_min:
                yield HANDS, begin, begin + piece.hands_min, 1.0
            for thing, amount in piece.uses:
                yield thing, begin, end, amount

    def uses(self, start_min: int) -> Iterator[tuple[str, int, int, float]]:
        """(thing, from, to, amount) of all it takes, also once it is ready."""
        yield from self.works(start_min)
        if self.stands is not None:
            thing, amount, until = self.stands
            yield thing, start_min + self.minutes, until, amount


@dataclass(frozen=True, slots=True)
class Placed:
    """A task with its start."""

    task: Task
    start_min: int

    @property
    def ready_min(self) -> int:
        return self.start_min + self.task.minutes

    @property
    def late_min(self) -> int:
        """How long after it was due it is ready."""
        return max(0, self.ready_min - self.task.due_min)


class _Take(NamedTuple):
    """So much of a thing's free amounts, from and to minutes after a start."""

    free: list[float]
    begin: int
    end: int
    short: float


@dataclass(slots=True)
class Timetable:
    """The hands and things of a time, and what of them is still free in each minute.

    A thing that has no amount is never short.
    """

    first_min: int
    last_min: int
    windows: Sequence[Window]
    amounts: Mapping[str, float]
    _free: dict[str, list[float]] = field(default_factory=dict)
    _hands: Sequence[float] = ()

    def __post_init__(self) -> None:
        amounts, length = {HANDS: 0.0, **self.amounts}, self.last_min - self.first_min
        self._free = {thing: [amount] * length for thing, amount in amounts.items()}
        for window in self.windows:
            self.take(HANDS, window.from_min, window.to_min, -window.count)
        self._hands = tuple(self._free[HANDS])

    def place(self, tasks: Iterable[Task]) -> list[Placed]:
        """Those of the tasks that find a place before they are due; of tasks due at once, the first
        given chooses first."""
        placed = []
        for task in sorted(tasks, key=lambda task: -task.due_min):
            start = self._latest(task)
            if start is not None:
                placed.append(self._put(task, start))
        return placed

    def place_late(self, task: Task) -> Placed | None:
        """The task at the first moment from when it is due; None where there is none."""
        start = max(task.due_min, task.ready_from_min) - task.minutes
        takes = self._takes(task)
        while start + task.minutes < self.last_min:
            later = max((self._later(one, start) for one in takes), default=0)
            if not later and self._stands(task, start):
                return self._put(task, start)
            start += later or 1
        return None

    def waits_for(self, task: Task) -> tuple[str, ...]:
        """The things of which any alone, were there no end of it, would let a task be in time."""
        uses = dict.fromkeys(thing for thing, *_ in task.uses(0) if thing in self._free)
        return tuple(thing for thing in uses if self._fits_without(task, thing))

    def _fits_without(self, task: Task, thing: str) -> bool:
        free = self._free.pop(thing)
        fits = self._latest(task) is not None
        self._free[thing] = free
        return fits

    def take(self, thing: str, from_min: int, to_min: int, amount: float) -> None:
        """So much of a thing is not free meanwhile; free again where the amount is below 0."""
        free = self._free.get(thing)
        if free is not None:
            for minute in range(max(from_min, self.first_min), min(to_min, self.last_min)):
                free[minute - self.first_min] -= amount

    def most_hands(self) -> tuple[int, int, int]:
        """(how many hands are busy at once at most, of how many, when first)."""
        free = self._free[HANDS]
        busy = [there - left for there, left in zip(self._hands, free, strict=True)]
        at = max(range(len(busy)), key=lambda minute: busy[minute])
        return round(busy[at]), round(self._hands[at]), at + self.first_min

    def _latest(self, task: Task) -> int | None:
        start, takes = task.due_min - task.minutes, self._takes(task)
        earliest = max(self.first_min, task.ready_from_min - task.minutes)
        while start >= earliest:
            earlier = max((self._earlier(one, start) for one in takes), default=0)
            if not earlier:
                # what does not stand until then does not from an earlier start, which is longer
                return start if self._stands(task, start) else None
            start -= earlier
        return None

    def _takes(self, task: Task) -> list[_Take]:
        """What its pieces take of what may be short, for a start at 0."""
        free = self._free
        return [
            _Take(free[thing], begin, end, amount - _NOISE)
            for thing, begin, end, amount in task.works(0)
            if thing in free and end > begin
        ]

    def _earlier(self, take: _Take, start_min: int) -> int:
        """How many minutes earlier a start must be, for all this take can tell; 0 if it is free."""
        free, begin = take.free, start_min + take.begin - self.first_min
        end = begin + take.end - take.begin
        if min(free[begin:end]) >= take.short:
            return 0
        minute = next(at for at in range(begin, end) if free[at] < take.short)
        while minute > 0 and free[minute - 1] < take.short:
            minute -= 1
        return end - minute

    def _later(self, take: _Take, start_min: int) -> int:
        """How many minutes later a start must be, for all this take can tell; 0 if it is free."""
        free, begin = take.free, start_min + take.begin - self.first_min
        end = begin + take.end - take.begin
        if begin < 0:
            return -begin
        if min(free[begin:end]) >= take.short:
            return 0
        minute = next(at for at in range(end - 1, begin - 1, -1) if free[at] < take.short)
        while minute + 1 < len(free) and free[minute + 1] < take.short:
            minute += 1
        return minute + 1 - begin

    def _stands(self, task: Task, start_min: int) -> bool:
        """Whether what is ready has room until it is used up."""
        if task.stands is None or task.stands[0] not in self._free:
            return True
        thing, amount, until = task.stands
        begin, end = start_min + task.minutes - self.first_min, until - self.first_min
        room = self._free[thing][max(0, begin) : end]
        return not room or min(room) >= amount - _NOISE

    def _put(self, task: Task, start_min: int) -> Placed:
        for thing, begin, end, amount in task.uses(start_min):
            self.take(thing, begin, end, amount)
        return Placed(task, start_min)
