"""The draft keeps the order of the text: what comes off first, whose cable it is, what takes the power away."""

from __future__ import annotations

import pytest

from lastscrew.device.model import Device
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.reading import load_lexicon, read
from lastscrew.reading.device_draft import draft_device
from lastscrew.reading.sources import open_source

LAPTOP = """# Dunmere 15 – Service guide, hardware revision C

## Tools

- Cross-recess screwdriver no. 0
- Cross-recess screwdriver no. 1

## Screw list

| Mark | Screw | Quantity | Where |
|---|---|---|---|
| A | M2.5 × 6 mm, countersunk, PH1 | 8 | Base cover |
| B | M2 × 3 mm, pan head, PH0 | 2 | Fan |

## Removing the base cover

1. Disconnect the AC adapter.
2. Remove the eight M2.5 × 6 mm screws (A) that secure the base cover to the palm rest assembly.
3. Lift the base cover off the palm rest assembly.

## Removing the battery

Prerequisites:

- Remove the base cover.

1. Disconnect the battery cable from the system board.
2. Lift the battery out of the palm rest assembly.

## Removing the coin-cell battery

Prerequisites:

- Remove the base cover.
- Disconnect the battery cable.

1. Pry the coin-cell battery out of its holder on the system board.

## Removing the fan

Prerequisites:

- Remove the base cover.
- Disconnect the battery cable.

1. Disconnect the fan cable from the system board.
2. Remove the display cable from the guides on the fan.
3. Remove the two M2 × 3 mm screws (B) that secure the fan to the palm rest assembly.
4. Lift the fan out of the palm rest assembly.

## Removing the speakers

Prerequisites:

- Remove the base cover.

1. Disconnect the speaker cable from the system board.
2. Lift the left speaker and the right speaker off the palm rest assembly.

## Removing the display assembly

Prerequisites:

- Remove the base cover.
- Disconnect the battery cable.

1. Disconnect the display cable from the system board.
2. Remove the six M2.5 × 5 mm screws that secure the hinges to the palm rest assembly.
3. Lift the display assembly off the palm rest assembly.

## Removing the system board

Prerequisites:

- Remove the base cover.
- Remove the battery.
- Remove the fan.

1. Disconnect all cables from the system board.
2. Remove the five M2 × 3 mm screws that secure the system board to the palm rest assembly.
3. Lift the system board out of the palm rest assembly.
"""


def device_of(text: str, name: str = "sample.md") -> Device:
    lexicon = load_lexicon()
    return draft_device(read(open_source(text.encode(), name), lexicon), lexicon).device


def way_to(device: Device, part: str) -> list[str]:
    """Ids of the joints on the way to a part."""
    way = plan(device, Request(replace=(part,)))
    assert way.proven
    return [step.joint for step in way.way_in]


@pytest.fixture(scope="module")
def laptop() -> Device:
    return device_of(LAPTOP)


def test_the_machine_is_called_what_the_title_calls_it(laptop: Device) -> None:
    """The kind of text and the revision are no part of a machine's name."""
    assert laptop.name == "Dunmere 15"


def test_parts_are_spelt_as_in_the_text(laptop: Device) -> None:
    """Names keep their capitals and their "assembly"."""
    assert laptop.parts["palm_rest"].name == "Palm rest assembly"
    wlan = device_of(LAPTOP.replace("fan", "WLAN card"))
    assert wlan.parts["wlan_card"].name == "WLAN card"


def test_two_batteries_with_two_removals_are_two(laptop: Device) -> None:
    """A short name is no other thing where both have a removal of their own."""
    assert {"battery", "coin_cell_battery"} <= set(laptop.parts)
    assert laptop.joints["coin_cell_battery_seat"].joins == ("coin_cell_battery", "system_board")
    assert [j.id for j in laptop.joints.values() if j.isolates] == ["battery_plug"]


def test_drivers_keep_their_numbers_and_fit_the_screws_of_the_list(laptop: Device) -> None:
    """A list of screws says drive and head; the driver of that number is taken."""
    assert laptop.tools["cross_recess_screwdriver_no_0"].fits == ("PH0",)
    cover = laptop.joints["base_cover_screws"]
    screw = laptop.fasteners[cover.fastener or ""]
    assert (screw.thread, screw.length_mm, screw.drive, screw.head) == (
        "M2.5",
        6,
        "PH1",
        "countersunk",
    )
    assert cover.accesses[0].tool == "cross_recess_screwdriver_no_1"


def test_a_state_that_is_a_joint_is_opened_and_no_act(laptop: Device) -> None:
    """What has to be disconnected before is the battery's plug; only the adapter is an act."""
    assert [act.text for act in laptop.acts.values()] == ["Disconnect the AC adapter."]
    assert "battery_plug" in way_to(laptop, "fan")
    assert "battery_plug" in way_to(laptop, "coin_cell_battery")


def test_a_cable_belongs_to_the_part_that_its_name_begins(laptop: Device) -> None:
    """The display cable is the display assembly's, the speaker cable that of both speakers."""
    assert laptop.joints["display_plug"].joins == ("display", "system_board")
    plugs = [j for j in laptop.joints.values() if j.kind == "plug" and "left_speaker" in j.joins]
    assert [j.joins for j in plugs] == [("left_speaker", "right_speaker", "system_board")]


def test_a_cable_out_of_its_guides_stays_plugged_in(laptop: Device) -> None:
    """Guides make a route, no second plug."""
    route = next(j for j in laptop.joints.values() if j.kind == "route")
    assert route.joins[0] == "display"
    assert route.id in way_to(laptop, "fan")


def test_what_the_text_opens_on_the_way_is_opened(laptop: Device) -> None:
    """Hinge screws belong to the display; all cables of the board come off; speakers lie on nothing of their own."""
    assert "hinge_screws" in way_to(laptop, "display")
    way = way_to(laptop, "system_board")
    assert {"fan_plug", "display_plug", "left_speaker_plug", "fan_seat", "battery_seat"} <= set(way)
    assert way[-1] == "system_board_seat"
    assert laptop.joints["right_speaker_seat"].joins == ("right_speaker", "palm_rest")


def test_what_lies_over_a_joint_lies_over_it_in_every_procedure() -> None:
    """A plug that one procedure opens with less taken off is not under the rest."""
    more = LAPTOP.replace(
        "1. Disconnect all cables from the system board.\n",
        "1. Disconnect the lamp cable from the system board.\n",
    )
    text = more + (
        "\n## Removing the lamp board\n\nPrerequisites:\n\n- Remove the base cover.\n\n"
        "1. Disconnect the lamp cable from the system board.\n2. Lift the lamp board out of the palm rest assembly.\n"
    )
    plug = device_of(text).joints["lamp_board_plug"]
    assert plug.joins == ("lamp_board", "system_board")
    assert plug.accesses[0].under == ("base_cover",)


def test_a_part_that_has_to_be_out_before_it_is_opened_is_out() -> None:
    """Before the screws between drive and cage are opened, the cage comes out of the housing."""
    device = device_of(
        "# Removing the drive cage\n\n1. Remove the two M3x5 screws that hold the drive cage to the chassis.\n"
        "2. Lift the drive cage out of the chassis.\n\n# Removing the hard drive\n\nPrerequisites:\n\n"
        "- Remove the drive cage.\n\n1. Remove the four M3x4 screws that hold the hard drive to the drive cage.\n"
        "2. Slide the hard drive out of the drive cage.\n"
    )
    assert way_to(device, "hard_drive")[:2] == ["drive_cage_screws", "drive_cage_seat"]


def test_the_cord_takes_the_power_away_where_there_is_no_battery() -> None:
    """A mains machine is isolated at its cord; its own power cables are joints."""
    device = device_of(
        "# Removing the power supply\n\n1. Unplug the power cord.\n"
        "2. Disconnect the 24-pin power cable from the main board.\n"
        "3. Remove the three M3x6 screws that hold the power supply to the chassis.\n"
        "4. Lift the power supply out of the chassis.\n"
    )
    way = way_to(device, "power_supply")
    assert way[0] == "power_cord_plug"
    assert device.joints[way[0]].isolates
    assert device.joints["power_supply_plug"].joins == ("power_supply", "main_board")


def test_a_part_that_is_folded_up_hangs_on_its_cable_still() -> None:
    """What a folded part uncovers is reached before its own cable is off."""
    device = device_of(
        "# Removing the display\n\n1. Fold the display up from the housing.\n"
        "2. Disconnect the battery flex from the main board.\n"
        "3. Disconnect the display flex from the main board.\n4. Take the display away.\n\n"
        "# Fitting the display\n\n1. Stick a new adhesive frame on the housing.\n"
        "2. Connect the display flex to the main board.\n3. Fold the display down.\n"
    )
    assert way_to(device, "display") == ["display_adhesive", "battery_ribbon", "display_ribbon"]
    bond = device.joints["display_adhesive"]
    assert (bond.kind, bond.reuse, dict(bond.renew)) == (
        "adhesive",
        "single_use",
        {"adhesive_frame": 1},
    )


def test_a_link_with_two_ends_is_two_joints_and_an_option_is_said() -> None:
    """Each end of a board link is opened where the text opens it; "if installed" makes an option."""
    device = device_of(
        "# Removing the port board (if installed)\n\n"
        "1. Disconnect the board link from the port board and the main board.\n"
        "2. Remove the two M2x3 screws that hold the port board to the housing.\n"
        "3. Lift the port board out of the housing.\n"
    )
    links = {j.joins for j in device.joints.values() if j.kind == "board_link"}
    assert links == {("board_link", "port_board"), ("board_link", "main_board")}
    assert device.joints["port_board_screws"].if_fitted in device.options


def test_sizes_set_off_by_commas_and_inch_sizes_are_read() -> None:
    """A size between commas does not cut off what the screws hold; decimals of inch screws are kept."""
    device = device_of(
        "# Removing the bracket\n\n"
        "1. Remove the two T3 screws, 1.2 x 2.0 mm, that hold the camera bracket to the main board.\n"
        "2. Lift the camera bracket off.\n"
        "3. Remove the #6-32 x 6.3 screw that fastens the card bracket to the chassis.\n"
        "4. Lift the card bracket off.\n"
        "5. Disconnect the black and the white antenna cable from the radio card.\n"
    )
    screws = device.joints["camera_bracket_screws"]
    assert screws.joins == ("camera_bracket", "main_board")
    assert device.fasteners[screws.fastener or ""].length_mm == 2
    assert device.joints["card_bracket_screws"].joins == ("card_bracket", "chassis")
    assert "black" not in device.parts


def test_a_part_with_a_section_of_its_own_is_called_by_its_bare_name() -> None:
    """The battery named after a coin-cell battery is the battery, where both have sections."""
    text = f"{LAPTOP}\n## Installing the system board\n\n1. Install the battery.\n"
    last = read(open_source(text.encode(), "sample.md")).procedures[-1]
    assert last.actions()[-1].object == "battery"
