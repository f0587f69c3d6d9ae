"""The work page in a real browser: a whole job, the keyboard alone, without the network, on two screens."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from lastscrew.bench.models import Revision
from lastscrew.bench.store.adding import add_run_events
from lastscrew.bench.store.clock import new_key
from lastscrew.bench.store.jobs import load_job
from lastscrew.run.events import Event
from tests.bench.browser.conftest import Windows, axe_finds  # noqa: F401
from tests.bench.conftest import Bench
from tests.bench.store import making


def new_job(*replace: str) -> str:
    """A job that has just begun, on a unit of its own."""
    run = new_key()
    device = making.demo()
    if not Revision.objects.filter(pk=device.revision_hash).exists():
        making.publish()
    unit = making.unit(new_key())
    begun = Event(id=new_key(), what=making.started(device, replace=replace or ("fan",)))
    add_run_events(run, [begun], by="Ada", unit=unit)
    return run


def open_job(page: Page, run: str) -> None:
    """Open the work page and wait until it shows the job."""
    page.goto(f"/runs/{run}/work/")
    page.wait_for_selector("body[data-ready]")


def tap(page: Page) -> None:
    """Confirm what the main button says; fill in what is asked."""
    page.locator("[data-at=next]").click()


def all_sent(page: Page) -> None:
    """Wait until nothing waits to be sent."""
    expect(page.locator("[data-at=status]")).to_have_text("Everything is stored.")


def test_a_whole_job_from_the_first_tap_to_the_checks(served: Bench, page: Page) -> None:
    run = new_job("fan")
    open_job(page, run)
    for _ in range(60):
        if page.get_by_role("link", name="Prove that it works").is_visible():
            break
        tap(page)
    all_sent(page)
    page.wait_for_selector("text=Everything is done")
    state = load_job(run).state
    assert state.open == ()
    assert [exchange.part for exchange in state.exchanged] == ["fan"]
    assert state.remarks == ()
