"""Work in whole minutes: the laws of the timetable for any tasks, and small days worked by hand."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.prep.schedule import HANDS, Piece, Placed, Task, Timetable, Window

FIRST, LAST = 0, 600
THINGS = {"pot": 2.0, "burner": 1.0, "fridge": 5.0}

pieces = st.builds(
    lambda minutes, hands, uses: Piece(minutes, min(hands, minutes), tuple(uses.items())),
    st.integers(1, 40),
    st.integers(0, 40),
    st.dictionaries(st.sampled_from(["pot", "burner", "fridge"]), st.just(1.0), max_size=2),
)
stands = st.one_of(
    st.none(), st.tuples(st.just("fridge"), st.floats(0.5, 3), st.integers(100, 599))
)


@st.composite
def days(draw: st.DrawFn) -> tuple[list[Window], list[Task]]:
    windows = draw(
        st.lists(
            st.tuples(st.integers(0, 300), st.integers(1, 300), st.integers(1, 2)).map(
                lambda w: Window(w[0], w[0] + w[1], w[2])
            ),
            min_size=1,
            max_size=3,
        )
    )
    tasks = []
    for number in range(draw(st.integers(1, 9))):
        due = draw(st.integers(60, 560))
        early = draw(st.integers(0, due))
        own = tuple(draw(st.lists(pieces, min_size=1, max_size=4)))
        tasks.append(Task(f"t{number}", own, due, early, draw(stands)))
    return windows, tasks


def placed_all(windows: list[Window], tasks: list[Task]) -> tuple[list[Placed], list[Placed]]:
    """(in time, late) of the tasks that found a place."""
    table = Timetable(FIRST, LAST, windows, THINGS)
    in_time = table.place(tasks)
    there = {one.task.id for one in in_time}
    late = [table.place_late(task) for task in tasks if task.id not in there]
    return in_time, [one for one in late if one is not None]


@given(days())
def test_never_more_hands_or_things_than_there_are(
    day: tuple[list[Window], list[Task]],
) -> None:
    windows, tasks = day
    in_time, late = placed_all(windows, tasks)
    for minute in range(FIRST, LAST):
        taken: Counter[str] = Counter()
        for one in (*in_time, *late):
            for thing, begin, end, amount in one.task.uses(one.start_min):
                taken[thing] += amount if begin <= minute < end else 0  # type: ignore[assignment]
        there = sum(w.count for w in windows if w.from_min <= minute < w.to_min)
        assert taken[HANDS] <= there
        for thing, amount in THINGS.items():
            assert taken[thing] <= amount + 1e-6


@given(days())
def test_what_is_placed_is_in_time_and_what_is_late_comes_after(
    day: tuple[list[Window], list[Task]],
) -> None:
    in_time, late = placed_all(*day)
    for one in in_time:
        assert one.task.ready_from_min <= one.ready_min <= one.task.due_min
        assert one.late_min == 0
        assert one.start_min >= FIRST
    for one in late:
        assert one.late_min == one.ready_min - one.task.due_min > 0


@given(days())
def test_pieces_follow_one_another_without_a_gap(day: tuple[list[Window], list[Task]]) -> None:
    for one in placed_all(*day)[0]:
        starts = one.task.starts(one.start_min)
        lengths = [piece.minutes for piece in one.task.pieces]
        assert [b - a for a, b in pairwise(starts)] == lengths
        assert (starts[0], starts[-1]) == (one.start_min, one.ready_min)


@given(days())
def test_a_task_that_found_no_place_had_none_beside_those_placed(
    day: tuple[list[Window], list[Task]],
) -> None:
    """Minute by minute: no start before it was due is free of what stands already."""
    windows, tasks = day
    in_time = Timetable(FIRST, LAST, windows, THINGS).place(tasks)
    there = {one.task.id for one in in_time}
    for task in (task for task in tasks if task.id not in there):
        for ready in range(task.ready_from_min, task.due_min + 1):
            table = Timetable(FIRST, LAST, windows, THINGS)
            for one in in_time:
                at = Task(one.task.id, one.task.pieces, one.ready_min, one.ready_min,
                          one.task.stands)  # fmt: skip
                assert table.place([at])
            fixed = Task(task.id, task.pieces, ready, ready, task.stands)
            assert not table.place([fixed])


def boil(id: str, due: int, **given: int) -> Task:
    """30 min on a burner, the first 5 by hand."""
    return Task(id, (Piece(30, 5, (("burner", 1.0),)),), due, given.get("ready_from", 0))


def test_two_loads_on_one_burner_follow_one_another() -> None:
    # By hand: due at 100 both; the first given is ready at 100, the other 30 min before.
    table = Timetable(0, 600, [Window(0, 600, 1)], {"burner": 1.0})
    assert [(p.task.id, p.start_min) for p in table.place([boil("a", 100), boil("b", 100)])] == [
        ("a", 70), ("b", 40),
    ]  # fmt: skip


def test_waiting_leaves_the_hands_free() -> None:
    # By hand: two burners, one pair of hands. a starts at 70 and needs hands to 75, so b, 5 min
    # of hands too, starts at 65; with hands all 30 min it would have to start at 40.
    table = Timetable(0, 600, [Window(0, 600, 1)], {"burner": 2.0})
    assert [p.start_min for p in table.place([boil("a", 100), boil("b", 100)])] == [70, 65]
    busy = (Piece(30, 30, (("burner", 1.0),)),)
    table = Timetable(0, 600, [Window(0, 600, 1)], {"burner": 2.0})
    starts = [p.start_min for p in table.place([Task(i, busy, 100, 0) for i in "ab"])]
    assert starts == [70, 40]


def test_a_thing_named_by_two_steps_stays_held_between_them() -> None:
    # A pot for 20 min of boiling and 20 of resting: a second load has it 40 min earlier, though
    # the burner is free after 20.
    uses = (("pot", 1.0),)
    own = (Piece(20, 1, (*uses, ("burner", 1.0))), Piece(20, 0, uses))
    table = Timetable(0, 600, [Window(0, 600, 9)], {"pot": 1.0, "burner": 1.0})
    assert [p.start_min for p in table.place([Task("a", own, 200, 0), Task("b", own, 200, 0)])] == [
        160, 120,
    ]  # fmt: skip


def test_hands_that_leave_and_come_back_bind() -> None:
    # Hands to 60 and from 90: 5 min of hands for a load due at 100 are 55 to 60 at the latest.
    table = Timetable(0, 600, [Window(0, 60, 1), Window(90, 600, 1)], {})
    (one,) = table.place([boil("a", 100)])
    assert (one.start_min, one.ready_min) == (55, 85)


def test_what_may_not_be_made_so_early_waits_until_after_it_is_due() -> None:
    # No hands from 60 to 95; ready before 90 is too early to serve. Late: hands at 95, so 125.
    table = Timetable(0, 600, [Window(0, 60, 1), Window(95, 600, 1)], {})
    task = boil("a", 100, ready_from=90)
    assert table.place([task]) == []
    late = table.place_late(task)
    assert late is not None
    assert (late.start_min, late.ready_min, late.late_min) == (95, 125, 25)


def test_what_is_late_is_not_made_too_early_either() -> None:
    # Nobody is short: it is not ready before 130, though that is 30 min late.
    table = Timetable(0, 600, [Window(0, 600, 1)], {})
    task = boil("a", 100, ready_from=130)
    assert table.place([task]) == []
    late = table.place_late(task)
    assert late is not None
    assert (late.start_min, late.late_min) == (100, 30)


def test_hands_of_before_the_time_are_not_there_at_its_end() -> None:
    table = Timetable(0, 600, [Window(-60, 10, 1), Window(590, 900, 1)], {})
    assert table.most_hands() == (0, 1, 0)
    table.take(HANDS, 599, 600, 1.0)
    assert table.most_hands() == (1, 1, 599)


def test_what_never_fits_has_no_place() -> None:
    table = Timetable(0, 600, [Window(0, 600, 1)], {"burner": 0.0})
    assert table.place([boil("a", 100)]) == []
    assert table.place_late(boil("a", 100)) is None


def test_a_full_fridge_keeps_a_load_out() -> None:
    # 5 l of room; 3 l stand until 300, so another 3 l cannot be ready before 300.
    def tea(id: str, due: int, until: int) -> Task:
        return Task(id, (Piece(10, 10),), due, 0, ("fridge", 3.0, until))

    table = Timetable(0, 600, [Window(0, 600, 1)], {"fridge": 5.0})
    assert len(table.place([tea("a", 100, 300)])) == 1
    assert table.place([tea("b", 200, 400)]) == []
    late = table.place_late(tea("b", 200, 400))
    assert late is not None
    assert late.ready_min == 300
    assert [p.start_min for p in table.place([tea("c", 310, 310)])] == [pytest.approx(300)]


def test_most_hands_busy_at_once() -> None:
    table = Timetable(0, 600, [Window(0, 600, 2), Window(50, 80, 1)], {})
    table.place([boil("a", 100), boil("b", 100)])
    assert table.most_hands() == (2, 3, 70)
