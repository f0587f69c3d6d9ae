"""Work beside the requests goes in order, tells what went wrong, and ends with the program."""

from __future__ import annotations

import subprocess
import sys
import threading

import pytest

from lastscrew.bench.beside import Beside

ENDS_AT_ONCE = """
import threading
from lastscrew.bench.beside import Beside
begun = threading.Event()
def for_ever():
    begun.set()
    threading.Event().wait()
Beside("x").submit(for_ever)
begun.wait(30)
print("ends")
"""


def test_one_thing_is_done_after_the_other_and_what_goes_wrong_stops_nothing() -> None:
    beside, may, done = Beside("test"), threading.Event(), list[int]()

    def first() -> int:
        assert may.wait(30)
        done.append(1)
        return 1

    def wrong() -> int:
        raise ValueError("no")

    def last() -> int:
        done.append(3)
        return 3

    one, two, three = beside.submit(first), beside.submit(wrong), beside.submit(last)
    assert not three.done()
    may.set()
    assert one.result(30) == 1
    with pytest.raises(ValueError, match="no"):
        two.result(30)
    assert three.result(30) == 3
    assert done == [1, 3]


def test_a_program_that_ends_does_not_wait_for_it() -> None:
    ended = subprocess.run(
        [sys.executable, "-c", ENDS_AT_ONCE], capture_output=True, text=True, timeout=60, check=True
    )
    assert ended.stdout == "ends\n"
