"""Slips in short texts of other trades and styles: found where they are, and nothing is called an error beside them."""

from __future__ import annotations

import pytest

from tests.audit.texts import audited, line_of

PUMP = """\
5.1 Front door
Removal
a. Open the front door and lift it off its hinges.
Refitting
a. Hang the front door on its hinges.

5.2 Dosing pump
Removal
Before: remove the hose bracket (5.4).
a. Disconnect the pump cable from the controller.
b. Remove the 4 screws M5x20 and take the dosing pump off.
Refitting
a. Place the dosing pump and fit the 4 screws M5x20.
b. Connect the pump cable to the controller.

5.3 Controller
Removal
Before: remove the dosing pump (5.2).
a. Switch the machine off and lock the isolator.
b. Disconnect the pump cable and the display cable from the controller.
c. Remove the 6 nuts M4 and take the controller off.
Refitting
a. Place the controller and fit the 6 nuts M4.
b. Connect the pump cable to the controller.
"""
SINK = """\
Change of heat sink, inverter type C

1. Isolate the inverter and wait five minutes until the capacitors are discharged.
2. Remove the eight screws of the hood and lift the hood off.
3. Disconnect the gate cable.
4. Lift the heat sink off the modules.
5. Wipe the old thermal compound off the modules.
WARNING: Lifting the heat sink alone can crush your fingers. Two persons must lift it.
6. Set the new heat sink on the modules.
7. Connect the gate cable.
8. Put the hood on and fit the eight screws.
"""
TILL = """\
# Till: display

**Taking it off**

* Pull the mains plug.
* Undo four T6 screws and pry the frame loose with a pick.
* Lift the black latch and slide the display ribbon out of its socket.
* Lift the display away.

**Putting it on**

* Lay the display in.
* Slide the display ribbon into its socket.
* Press the frame on until it clicks.
* Drive in the four T6 screws.
"""
LAMP = """\
REPLACING THE LAMP HOUSE OF A MICROSCOPE

The mains plug is drawn and the lamp is left to cool. The rear panel is secured by four knurled screws; these are
removed and the panel is taken off. The lamp cable is unplugged from the ballast. Two hexagon socket screws hold the
lamp house to the stand; they are unscrewed, and the lamp house is withdrawn to the rear.

For refitting, the lamp house is slid in from the rear and its three hexagon socket screws are tightened. The lamp cable
is plugged into the ballast. The rear panel is put on and the four knurled screws are fitted.

Caution: the lamp is hot and under pressure. Wear goggles and gloves when you withdraw it.
"""
BOILER = """\
1
00:00:01,000 --> 00:00:05,000
Right, today it's the thermostat on the tea boiler.

2
00:00:05,000 --> 00:00:10,000
Switch it off at the wall and let it cool down.

3
00:00:10,000 --> 00:00:16,000
You take the three screws out of the base plate and drop the base plate.

4
00:00:16,000 --> 00:00:22,000
Pull the two brown wires off the thermostat.

5
00:00:22,000 --> 00:00:28,000
Take the two nuts off and pull the thermostat out of its clip.

6
00:00:28,000 --> 00:00:34,000
Put the new thermostat in and tighten the two nuts.

7
00:00:34,000 --> 00:00:40,000
Put the base plate back on and put its three screws back in. That's you done.
"""
POND = """\
Pond pump 12 - changing the impeller

Unplug the pump and lift it out of the water.

TAKING APART
1) Turn the pre-filter cage anticlockwise and pull it off.
2) Undo the six screws (M4 x 16, PH2) on the volute cover.
3) Take the volute cover off.
4) Peel the O-ring out of its groove. Do not use it again.
5) Draw the rotor out of the motor housing.

PUTTING TOGETHER
1) Push the rotor into the motor housing.
2) Set the volute cover on.
3) Put in the five screws and tighten them.
4) Push the pre-filter cage on and turn it clockwise.
"""
SLIPS = [
    ("pump.txt", PUMP, "unknown_prerequisite", "remove the hose bracket"),
    ("pump.txt", PUMP, "stays_open", "Disconnect the pump cable and the display"),
    ("sink.txt", SINK, "late_caution", "WARNING: Lifting"),
    ("sink.txt", SINK, "supply_not_renewed", "Wipe the old"),
    ("till.md", TILL, "stays_open", "Lift the black latch"),
    ("lamp.txt", LAMP, "count_differs", "its three hexagon"),
    ("lamp.txt", LAMP, "late_caution", "Caution: the lamp"),
    ("boiler.srt", BOILER, "stays_open", "Pull the two brown"),
    ("pond.txt", POND, "count_differs", "Put in the five"),
    ("pond.txt", POND, "supply_not_renewed", "Peel the O-ring"),
]


@pytest.mark.parametrize(("name", "text", "code", "at"), SLIPS)
def test_a_slip_is_found_where_it_is(name: str, text: str, code: str, at: str) -> None:
    """A finding of its code names its line."""
    lines = {line for f in audited(text, name) if f.code == code for line in (f.line, *f.also)}
    assert line_of(text, at) in lines


@pytest.mark.parametrize(("name", "text"), sorted({(name, text) for name, text, _, _ in SLIPS}))
def test_nothing_but_the_slips_is_a_warning(name: str, text: str) -> None:
    """Neither error nor warning beside them, but for words that the reader says it did not understand."""
    planted = {(code, line_of(text, at)) for file, _, code, at in SLIPS if file == name}
    found = {(f.code, f.line) for f in audited(text, name) if f.severity != "note"}
    assert {pair for pair in found if pair[0] != "not_understood"} <= planted
