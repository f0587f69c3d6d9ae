"""Sound texts that a hasty colleague would find fault with: nothing above a note is said about them."""

from __future__ import annotations

import pytest

from tests.audit.texts import audited

SOUND = {
    "two of three kinds of screw are only told in passing": """\
Inside a slide projector

I pulled the mains lead and removed the eight screws from the rear. The shell came away. The fan hangs on a
plate by three M3 screws. These I removed, and I took the fan out.

Putting it together was simple. I put the fan back on its plate and tightened the three screws. I closed the
shell, and the eight screws went back.
""",
    "what comes out of a card goes back under its own heading": """\
<h1>Questions about the weather station</h1>
<h2>How do I open it?</h2>
<p>Unplug the power first.</p>
<ul><li>There is a screw under each of the four feet. Pull the feet off and take out the screws.</li>
<li>Lift the lid off.</li></ul>
<h2>How do I change the radio card?</h2>
<p>You have to open the station first (see above).</p>
<p>Undo the screw that fastens the card to its standoff and draw the card out of the slot.</p>
<p>The new card goes in at the same angle. Press it down and put the screw back.</p>
<h2>How do I close it again?</h2>
<p>Put the lid on, and refit the four screws and feet.</p>
""",
    "what is cleaned was never taken off": """\
Old turntable

Pull the mains plug.

1. Lift the platter off.
2. Slip the belt off the pulley.
3. Clean the pulley with alcohol.

Putting it together

1. Slip the new belt onto the pulley.
2. Place the platter.
""",
    "bolted and plugged back are ways to say it": """\
Lathe motor

I switched the lathe off at the wall.

The motor is held by a bracket with two bolts. I took out both bolts and disconnected the four-pin plug from the
board. The motor came out through the bottom.

To refit it I bolted the bracket back on and plugged the motor back into the board.
""",
    "cables on": """\
DRIVE SLED SWAP
Power: OFF at the breaker.
1 Disconnect the two fibre cables at the rear.
2 Undo the 2 blue captive thumb screws.
3 Pull the sled straight out.
4 New sled in.
5 Tighten the thumb screws. Connect the cables.
""",
    "the power is cut off": """\
Mixer disassemble guide

Please cut off the power supply before.

1. Remove the 6 screws of the bottom cover.
2. Take down the bottom cover.
3. Pull out the white terminal of the display board.

Installing is opposite with disassemble.
""",
    "a card of its own": """\
CARD 7 TRANSMITTER, REMOVE
Power off at breaker CB4.
Requires: nose cap off (Card 3).
1. Remove the 4 bolts of the transmitter.
2. Slide the transmitter out.
Refit: reverse.

CARD 8 FILTER, REMOVE
1. Remove the 2 screws of the filter.
2. Pull the filter out.
Refit: reverse.
""",
}


@pytest.mark.parametrize("name", SOUND)
def test_a_sound_text_raises_no_alarm(name: str) -> None:
    """Neither an error nor a warning, but for words that the reader says it did not understand."""
    title = "talk.html" if SOUND[name].startswith("<") else "text.txt"
    found = [f for f in audited(SOUND[name], title) if f.severity != "note"]
    assert [(f.code, f.line, f.text) for f in found if f.code != "not_understood"] == []
