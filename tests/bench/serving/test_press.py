"""Paper is set beside the requests, once for what is on it, and what goes wrong is a sentence."""

from __future__ import annotations

import subprocess
import threading
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from lastscrew.bench.pages import printing
from lastscrew.bench.serving import press
from lastscrew.bench.serving.press import Press, print_apart
from lastscrew.paper.pdf import Pictures, Printed
from lastscrew.problems import InputError
from tests.bench.store.making import publish, unit

if TYPE_CHECKING:
    from tests.bench.conftest import Bench

PAGE = "<!DOCTYPE html><html><body><p>Seven screws</p></body></html>"


def test_a_page_is_printed_in_a_process_of_its_own() -> None:
    printed = print_apart(PAGE)
    assert printed.pages == 1
    assert "Seven screws" in PdfReader(BytesIO(printed.data)).pages[0].extract_text()


class Slow:
    """Prints when it may, and counts how often."""

    def __init__(self) -> None:
        """Nothing may be printed yet."""
        self.may = threading.Event()
        self.asked: list[str] = []

    def __call__(self, html: str, pictures: Pictures) -> Printed:
        """Print one page."""
        self.asked.append(html + "".join(sorted(pictures)))
        assert self.may.wait(60)
        return Printed(f"%PDF {html}".encode(), 1)


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> Slow:
    """A slow printer in place of the real one."""
    found = Slow()
    monkeypatch.setattr(press, "print_apart", found)
    return found


def test_nobody_waits_longer_than_a_moment_and_the_same_paper_is_set_once(slow: Slow) -> None:
    one = Press(wait_s=0.0)
    assert one.soon("a") is None
    assert one.soon("a") is None
    slow.may.set()
    one.wait_s = 60.0
    printed = one.soon("a")
    assert printed is not None
    assert one.soon("a") is printed
    assert slow.asked == ["a"]
    assert one.soon("a", {"photo:1": ("image/png", b"x")}) is not printed
    assert len(slow.asked) == 2


def test_only_so_much_waits_and_only_so_much_is_kept(
    slow: Slow, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(press, "MOST_WAITING", 2)
    monkeypatch.setattr(press, "MOST_KEPT", 1)
    one = Press(wait_s=0.0)
    assert [one.soon(name) for name in "abc"] == [None, None, None]
    slow.may.set()
    one.wait_s = 60.0
    assert one.soon("b") is not None
    assert slow.asked == ["a", "b"]
    assert one.soon("c") is not None
    assert one.soon("a") is not None
    assert slow.asked == ["a", "b", "c", "a"]


def test_a_printer_that_breaks_down_or_takes_for_ever_is_told_and_tried_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    one = Press(wait_s=60.0)

    def breaks(*_command: object, **_how: object) -> None:
        raise subprocess.TimeoutExpired("printer", 1)

    monkeypatch.setattr(subprocess, "run", breaks)
    with pytest.raises(InputError, match="could not be set"):
        one.soon(PAGE)
    monkeypatch.undo()
    assert one.soon(PAGE) is not None


def test_a_sheet_that_takes_long_is_a_page_that_opens_it_later(
    bench: Bench, slow: Slow, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = Press(wait_s=0.0)
    monkeypatch.setattr(printing, "PRESS", one)
    publish()
    key = unit()
    client = bench.client("technician")
    address = f"/units/{key}/plan/sheet.pdf?replace=fan"
    answer = client.get(address)
    assert answer.status_code == 202
    page = answer.content.decode()
    assert "The paper is being set" in page
    assert f'data-looks-again="{address}"' in page
    slow.may.set()
    one.wait_s = 60.0
    answer = client.get(address)
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "application/pdf")
    record = client.get(f"/units/{key}/record.pdf")
    assert record.headers["Content-Disposition"].startswith("inline")
    assert len(slow.asked) == 2
