"""The pages that the command line writes: an audit, a comparison and a reading, on a phone and on a desk."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from lastscrew.audit.compare_devices import compare_devices
from lastscrew.audit.device_file import audit_device
from lastscrew.audit.report import Subject, compare_html, html_report
from lastscrew.audit.text import audit_reading
from lastscrew.device.reading import load_device, read_device
from lastscrew.reading import load_lexicon, read
from lastscrew.reading.report import html_report as reading_report
from lastscrew.reading.sources import open_source
from tests.bench.browser.conftest import axe_finds

DEMO = Path(__file__).resolve().parents[3] / "src" / "lastscrew" / "demo"
LONG = "Κάλυμμα-カバー-غطاء-" + "NameWithoutAnyPlaceToBreak" * 4


def audit_page() -> str:
    """A text with planted slips and a device file of a long foreign name."""
    lexicon, name = load_lexicon(), "tarn_14.procedure.md"
    reading = read(open_source((DEMO / name).read_bytes(), name), lexicon)
    lines = tuple(line.text for line in reading.source.lines)
    text = Subject(name, "text", lines, audit_reading(reading, lexicon, name))
    data = (DEMO / "notebook.device.yaml").read_bytes()
    findings = audit_device(read_device(data, LONG), LONG)
    return html_report(
        [text, Subject(LONG, "device file", tuple(data.decode().split("\n")), findings)]
    )


def comparison_page() -> str:
    """The slate with a count, a signal word and a name changed."""
    old = (DEMO / "slate.device.yaml").read_text(encoding="utf-8")
    new = old.replace("count: 4", "count: 6", 1).replace("signal: warning", "signal: danger", 1)
    changes = compare_devices(load_device(old), load_device(new.replace("Edge cap", LONG, 1)))
    assert changes
    return compare_html(LONG, "new.device.yaml", changes)


def reading_page() -> str:
    """The shipped text, line by line, and a line of one long word."""
    data = (DEMO / "tarn_14.procedure.md").read_bytes() + f"\n\nRemove the {LONG}.\n".encode()
    return reading_report(read(open_source(data, f"{LONG}.md"), load_lexicon()))


@pytest.mark.parametrize("make", [audit_page, comparison_page, reading_page])
@pytest.mark.parametrize(("width", "scheme"), [(360, "light"), (1280, "dark")])
def test_a_page_fits_and_can_be_read_by_all(
    browser: Browser, make: Callable[[], str], width: int, scheme: str
) -> None:
    """Nothing reaches over the edge, contrast and structure pass the checker, in light and in dark."""
    context = browser.new_context(
        viewport={"width": width, "height": 800},
        color_scheme="dark" if scheme == "dark" else "light",
    )
    try:
        page = context.new_page()
        page.set_content(make(), wait_until="load")
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert axe_finds(page) == []
    finally:
        context.close()
