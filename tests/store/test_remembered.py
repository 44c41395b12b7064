"""A cut keeps its last answers, shares one between those who ask at once, and forgets the oldest."""

import threading

import pytest

from regdash.errors import Cancelled
from regdash.store.remembered import HEAVIEST_IN_ALL, HEAVIEST_KEPT, MOST_KEPT, Remembered


def test_the_same_question_is_answered_once():
    made = []
    kept = Remembered()
    for _ in range(3):
        assert kept.get("how many", lambda: made.append(1) or 7, lambda _: 1) == 7
    assert len(made) == 1


def test_an_answer_that_is_too_large_is_made_each_time():
    made = []
    kept = Remembered()
    for _ in range(3):
        kept.get("how many", lambda: made.append(1), lambda _: HEAVIEST_KEPT + 1)
    assert len(made) == 3


def test_only_the_last_answers_are_kept():
    made = []
    kept = Remembered()
    for number in (*range(MOST_KEPT + 1), 0):
        kept.get(number, lambda number=number: made.append(number), lambda _: 1)
    assert made == [*range(MOST_KEPT + 1), 0]


def test_heavy_answers_make_room_for_each_other():
    made = []
    kept = Remembered()
    fit = HEAVIEST_IN_ALL // HEAVIEST_KEPT
    for number in (*range(fit + 1), fit, 0):
        kept.get(number, lambda number=number: made.append(number), lambda _: HEAVIEST_KEPT)
    assert made == [*range(fit + 1), 0]


def test_two_who_ask_at_once_wait_for_one_count():
    made, started, may_end = [], threading.Event(), threading.Event()
    kept = Remembered()

    def make():
        started.set()
        may_end.wait(10)
        made.append(1)
        return 7

    answers = []
    threads = [threading.Thread(target=lambda: answers.append(kept.get("q", make, lambda _: 1))) for _ in range(2)]
    threads[0].start()
    assert started.wait(10)
    threads[1].start()
    may_end.set()
    for thread in threads:
        thread.join(10)
    assert answers == [7, 7]
    assert len(made) == 1


def test_a_cancelled_question_leaves_nothing_and_the_next_is_answered():
    kept = Remembered()

    def cancelled():
        raise Cancelled("The question was cancelled.")

    with pytest.raises(Cancelled):
        kept.get("q", cancelled, lambda _: 1)
    assert kept.get("q", lambda: 7, lambda _: 1) == 7


def test_what_was_forgotten_is_counted_anew():
    made = []
    kept = Remembered()
    kept.get("q", lambda: made.append(1), lambda _: 1)
    kept.forget()
    kept.get("q", lambda: made.append(1), lambda _: 1)
    assert len(made) == 2
