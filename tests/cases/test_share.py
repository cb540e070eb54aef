"""Work shared out: the same results whoever does it, and what is finished survives an interrupt."""

from __future__ import annotations

import os
import pickle
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest
from answers.builds import network, plain

from tideover.cases import pool, share
from tideover.parts import KINDS


def square(x):
    return x * x


def breaks_at_three(x):
    if x == 3:
        raise ValueError("three")
    return x


def stops_at_three(x):
    if x == 3:
        raise KeyboardInterrupt
    return x


def dies_elsewhere(here):
    if os.getpid() != here:
        os._exit(1)
    return here


def test_results_stand_in_the_order_of_the_pieces_whoever_does_them():
    want = tuple(x * x for x in range(10))
    with pool(2) as two, ThreadPoolExecutor(3) as threads:
        for executor in (None, two, threads):
            told = []
            shared = share(square, range(10), executor, lambda *a, told=told: told.append(a))
            assert shared.results == want and not shared.interrupted
            assert told == [(k, 10) for k in range(1, 11)]


def test_one_worker_is_this_process():
    assert pool(0) is None and pool(1) is None


def test_an_interrupt_keeps_what_is_finished():
    shared = share(stops_at_three, range(6))
    assert shared.interrupted
    assert shared.results == (0, 1, 2, None, None, None)
    assert shared.finished == (0, 1, 2)


def test_an_interrupt_keeps_what_is_under_way_elsewhere():
    begun, go = threading.Event(), threading.Event()

    def waits(x):
        if x:
            begun.set()
            go.wait(5)
        return x

    def told(done, total):
        begun.wait(5)
        threading.Timer(0.05, go.set).start()
        raise KeyboardInterrupt

    with ThreadPoolExecutor(1) as one:
        shared = share(waits, range(6), one, told)
    assert shared.interrupted and shared.results == (0, 1, None, None, None, None)


@pytest.mark.parametrize("executor", [None, 2])
def test_an_error_of_the_task_is_raised(executor):
    with pytest.raises(ValueError, match="three"):
        share(breaks_at_three, range(6), pool(executor) if executor else None)


def test_pieces_whose_worker_was_killed_are_done_here():
    with pool(2) as two:
        assert share(dies_elsewhere, [os.getpid()] * 4, two).results == (os.getpid(),) * 4


def test_a_network_travels_and_finds_its_kinds_again():
    one = network(plain())
    other = pickle.loads(pickle.dumps(one))
    assert [p.kind for p in other.parts] == [p.kind for p in one.parts]
    assert [p.values for p in other.parts] == [p.values for p in one.parts]


def test_a_kind_outside_the_table_says_that_it_cannot_travel():
    with pytest.raises(pickle.PicklingError, match=r"'lamp'.*KINDS.*no executor"):
        pickle.dumps(replace(KINDS["load"], name="lamp"))
