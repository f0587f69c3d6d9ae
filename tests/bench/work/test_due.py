"""What must be done or told once more: after checks, and while a piece lies somewhere in the machine."""

from __future__ import annotations

from lastscrew.bench.work.items import Item
from lastscrew.device.model import Device
from lastscrew.run.events import Checked, Lost, Searched, TargetAdded
from tests.bench.work.conftest import Screen, demo


def taps(item: Item) -> dict[str, bool]:
    """What is confirmed at a step, and whether it was."""
    return {tap.text: tap.is_done for tap in item.taps}


def test_what_was_tried_is_shut_down_and_discharged_again_before_it_is_opened_again(
    notebook: Device,
) -> None:
    """A check at the end has switched the machine on: the acts before the work and at the pack are due anew."""
    screen = Screen.at(notebook, "fan")
    screen.tap_until()
    assert all(item.is_done for item in screen.items())
    screen.happen(Checked(function="cooling", outcome="fails", value=99.0, unit="°C"))
    # Nothing is to be opened any more: the page does not ask to begin anew.
    assert all(item.is_done for item in screen.items())
    screen.happen(TargetAdded(replace="speakers"))
    assert not screen.item("act:shut_down").is_done
    assert not any(taps(screen.item("in:pack_plug")).values())
    screen.tap(screen.item("act:shut_down"))
    assert screen.item("act:shut_down").is_done
    screen.tap_until("in:pack_plug")
    screen.tap(screen.item("in:pack_plug"))
    assert all(taps(screen.item("in:pack_plug")).values())
    screen.tap_until()
    assert all(item.is_done for item in screen.items())


def test_power_is_on_until_the_last_plug_that_takes_it_away_is_open(notebook: Device) -> None:
    """Whoever pulls the plug of the pack inside the machine works live; after it the power is away."""
    items = Screen.at(notebook, "fan").items()
    plug = next(n for n, item in enumerate(items) if item.id == "in:pack_plug")
    assert items[plug].live == "live"
    after = [item for item in items[plug + 1 :] if item.kind == "open"]
    assert {item.live for item in after} == {"isolated"}
    # A cord that is pulled outside of the machine is no work inside.
    cord = next(i for i in Screen.at(demo("extractor"), "motor").items() if i.id == "in:cord_plug")
    assert cord.live == ""


def test_a_check_on_the_way_does_not_ask_for_the_first_acts_again(notebook: Device) -> None:
    """What is tried before opening comes before those acts, and what is tried in between ends with the power away."""
    screen = Screen.at(notebook, "fan")
    screen.tap_until("in:foot_bond")
    screen.happen(Checked(function="boots", outcome="works", phase="before"))
    assert screen.item("act:shut_down").is_done


def test_a_piece_that_may_lie_in_the_machine_is_told_at_every_closing_until_it_was_searched_for(
    notebook: Device,
) -> None:
    """A loose screw in a machine with a pack is a warning before it is closed; told neither before nor after."""
    screen = Screen.at(notebook, "fan")
    screen.tap_until("out:fan_seat")
    lost = screen.happen(Lost(joint="fan_screws", count=1))

    def told() -> set[str]:
        return {
            item.id
            for item in screen.items()
            for caution in item.cautions
            if caution.signal == "warning" and "may lie in the machine" in caution.text
        }

    closings = {item.id for item in screen.items() if item.kind == "close"}
    assert told() == closings
    first = next(item for item in screen.items() if item.kind == "close")
    screen.tap(first)
    assert told() == closings - {first.id}
    screen.happen(Searched(about=lost.id, where="below the board"))
    assert told() == set()


def test_a_piece_lost_outside_is_no_danger_inside(notebook: Device) -> None:
    """What fell on the floor does not lie in the machine; what can't be got out does."""
    screen = Screen.at(notebook, "fan")
    screen.tap_until("out:fan_seat")
    screen.happen(Lost(joint="fan_screws", count=1, inside=False))
    texts = [c.text for item in screen.items() for c in item.cautions]
    assert not any("may lie in the machine" in text for text in texts)
    screen.happen(Lost(joint="fan_screws", count=1, inside=True))
    texts = [c.text for item in screen.items() for c in item.cautions]
    assert any("may lie in the machine" in text for text in texts)
