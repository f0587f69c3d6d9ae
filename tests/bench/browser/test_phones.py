"""The work page on a phone: what is dangerous is read before the thumb is on the button."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Page, expect

from lastscrew.bench.store.jobs import load_job
from lastscrew.fasteners.ledger import ledger_of
from tests.bench.browser.conftest import Windows
from tests.bench.browser.test_working import all_sent, new_job, open_job, read_on, tap
from tests.bench.conftest import Bench

GRAVEST_IN_SIGHT = """() => {
  const end = document.querySelector(".thumbs").getBoundingClientRect().top;
  const [gravest] = document.querySelectorAll(".step.now .hazard:not(.chip)");
  const box = gravest.getBoundingClientRect();
  return box.top >= 0 && box.bottom <= end;
}"""
SHOWN = 'document.querySelectorAll(".step.now .hazard:not(.chip)").length'


def tap_to_a_hazard(page: Page, more_than: int) -> None:
    """Go on until a step shows more hazards in full than that."""
    for _ in range(12):
        if page.evaluate(SHOWN) > more_than:
            return
        page.wait_for_timeout(310)
        tap(page)
    raise AssertionError("no step of this job shows a hazard")


def test_the_gravest_hazard_is_in_sight_on_a_phone_after_a_tap_and_when_the_page_is_opened(
    served: Bench, windows: Windows
) -> None:
    page = windows.open(360, 780)
    run = new_job("fan")
    open_job(page, run)
    tap_to_a_hazard(page, 0)
    page.wait_for_function(GRAVEST_IN_SIGHT)
    other = windows.open(360, 780)
    open_job(other, run)
    expect(other.locator(".step.now .hazard").first).to_be_visible()
    assert other.evaluate(SHOWN) > 0
    other.wait_for_function(GRAVEST_IN_SIGHT)


LAST_IN_SIGHT = """() => {
  const end = document.querySelector(".thumbs").getBoundingClientRect().top;
  const box = [...document.querySelectorAll(".step.now [data-see]")].at(-1).getBoundingClientRect();
  return box.bottom <= end + 1;
}"""


def test_a_step_that_is_longer_than_a_phone_is_read_to_its_end_before_a_press_confirms_it(
    served: Bench, windows: Windows
) -> None:
    page = windows.open(360, 600)
    run = new_job("pack")
    open_job(page, run)
    button = page.locator("[data-at=next]")
    for _ in range(12):
        if button.get_attribute("data-below") != "0":
            break
        tap(page)
    else:
        raise AssertionError("every step of this job fits the phone")
    all_sent(page)
    before = load_job(run).state.version
    step = page.locator(".step.now .step-name")
    name = step.inner_text()
    expect(button).to_contain_text("First read what else stands here")

    def pedal() -> None:
        page.wait_for_timeout(310)
        page.keyboard.press("PageDown")

    assert read_on(page, pedal) >= 1
    assert page.evaluate(LAST_IN_SIGHT)
    expect(step).to_have_text(name, use_inner_text=True)
    all_sent(page)
    assert load_job(run).state.version == before
    label = button.inner_text()
    pedal()
    expect(button).not_to_have_text(label, use_inner_text=True)
    all_sent(page)
    assert load_job(run).state.version > before


def test_a_screw_that_is_missed_later_is_told_at_its_own_joint_from_any_step(
    served: Bench, windows: Windows
) -> None:
    page = windows.open(360, 780)
    run = new_job("fan")
    open_job(page, run)
    tap_to_a_hazard(page, 0)  # beyond the screws of the cover
    page.get_by_role("button", name="Something is wrong").click()
    page.get_by_role("button", name="It is about another joint").click()
    page.get_by_role("button", name="Cover screws", exact=True).click()
    page.get_by_role("button", name="A screw is lost").click()
    more = page.get_by_role("button", name="One more")
    more.click()
    more.click()
    page.get_by_role("button", name="3 lost, not searched for yet").click()
    expect(page.locator(".ledger")).to_contain_text("lost, not searched for yet")
    all_sent(page)
    job = load_job(run)
    losses = ledger_of(job.device, job.state.log).losses
    assert [(loss.joint, loss.count) for loss in losses] == [("cover_screws", 3)]


def test_a_pack_that_swells_at_work_stops_it_in_two_taps(served: Bench, windows: Windows) -> None:
    """What to do now is said at once, without the network too; the unit is set apart on its page."""
    page, watch = windows.watched(360, 780)
    run = new_job("pack")
    open_job(page, run)
    page.wait_for_selector("body[data-offline]")
    watch.offline = True
    page.context.set_offline(True)
    page.get_by_role("button", name="Something is wrong").click()
    page.get_by_role("button", name="A swollen or damaged pack, or liquid").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text(
        "Do not switch the machine on, charge it, press on it or open it."
    )
    page.context.set_offline(False)
    dialog.get_by_role("link", name="Set it apart").click()
    form = page.locator("#hazard")
    expect(form.get_by_label("Who was told")).to_be_visible()
    form.locator(".tap", has_text="swollen pack").click()
    form.get_by_label("Who was told").fill("Cleo")
    form.get_by_label("Where it was put").fill("Sand box")
    form.locator("input[name=power_off]").check()
    form.get_by_role("button").click()
    expect(page.get_by_role("heading", name="Set apart: swollen pack")).to_be_visible()


def test_a_file_that_is_no_picture_is_refused_in_a_sentence_and_holds_nothing_up(
    served: Bench, windows: Windows, tmp_path: Path
) -> None:
    wrong = tmp_path / "lid.jpg"
    wrong.write_bytes(b"GIF89a<script>alert(1)</script>")
    page, watch = windows.watched(360, 780)
    watch.refusals = True
    run = new_job("fan")
    open_job(page, run)
    page.get_by_role("button", name="Note, photo").click()
    page.get_by_label("Photo of this step").set_input_files(wrong)
    page.get_by_role("button", name="Keep the photo").click()
    status = page.locator("[data-at=status]")
    expect(status).to_contain_text("this is no picture that can be read. ")
    tap(page)
    expect(status).to_contain_text("Everything is stored.")
    assert len(load_job(run).state.acts_done) == 1
