"""What is said before a check or mend."""

from __future__ import annotations

from lastscrew.device.model import Device
from lastscrew.device.reading import load_device
from lastscrew.faults.cautions import TRAINED, Cautions, cautions_for
from lastscrew.faults.model import fault_model
from tests.faults.lantern import LANTERN, lantern


def cautions(work_id: str, opened: tuple[str, ...] = (), device: Device | None = None) -> Cautions:
    """Cautions of one piece of work, from what is open now."""
    model = fault_model(device or lantern(), stock=("lamp",))
    number = [work.id for work in model.works].index(work_id)
    start = model.openings.state(opened)
    move = model.openings.move(start, number)
    ids = model.openings.rules.joint_ids
    moved = [ids[step.joint] for step in model.openings.steps(start, number)]
    return cautions_for(model.device, model.openings, model.works[number], move.during, moved)


def test_a_check_from_outside_needs_no_caution() -> None:
    """Nothing is open, nothing is handled."""
    assert cautions("charger") == Cautions()


def test_power_on_an_open_machine_is_a_hold_point_with_hazards() -> None:
    """What lies open is shown, and the pack whose plug is closed for it; a live joint that stays open is named."""
    found = cautions("board_light", ("cover_screws", "pack_plug", "lamp_plug"))
    assert found.live == ("lamp_plug",)
    assert "Lamp plug" in found.hold
    assert "Nobody touches the inside until power is off" in found.hold
    assert [hazard.id for hazard in found.hazards] == ["pack", "edge"]


def test_power_on_an_open_machine_without_live_joints_is_held_as_well() -> None:
    """The cover is off: nobody touches the inside, though nothing that carries power is open."""
    found = cautions("board_light")
    assert found.live == ()
    assert "Power is to be put on while the machine is open" in found.hold


def test_what_lies_bare_is_shown_though_nobody_touches_it() -> None:
    """Under the cover lies the pack: whoever takes the cover off is told, and whoever finds it off."""
    look = LANTERN.replace(
        "  other_lamp:",
        "  look: {name: Look inside, check: Look., open: [cover_screws]}\n  other_lamp:",
    )
    device = load_device(look.encode())
    assert [h.id for h in cautions("look", device=device).hazards] == ["pack", "edge"]
    assert [h.id for h in cautions("look", ("cover_screws",), device).hazards] == ["pack", "edge"]


def test_a_swap_test_names_the_joint_that_hangs() -> None:
    """A known-good lamp on its plug, power on: the plug is named as live, and no bare end may touch metal."""
    found = cautions("other_lamp")
    assert found.live == ("lamp_plug",)
    assert "known-good Lamp hung on Lamp plug" in found.hold
    assert "nothing bare touches metal" in found.hold


def test_hazards_come_most_severe_first() -> None:
    """The warning of the pack before the caution of the cover's edge, which bites only while that comes off."""
    assert [hazard.id for hazard in cautions("exchange_pack").hazards] == ["pack", "edge"]
    with_cover_off = cautions("exchange_pack", ("cover_screws",))
    assert [hazard.id for hazard in with_cover_off.hazards] == ["pack"]


def test_packs_and_mains_are_left_to_trained_people() -> None:
    """Work on the pack, and whatever speaks of mains or high voltage."""
    assert cautions("exchange_pack").trained == TRAINED
    assert cautions("pack_voltage").trained == TRAINED
    assert cautions("exchange_lamp").trained == ""
    mains = load_device(
        LANTERN.replace("check: Plug in the charger.", "check: Measure the mains voltage.").encode()
    )
    assert cautions("charger", device=mains).trained == TRAINED
