"""How written procedures call things: capitals, long names, what is used once, loose pieces."""

from __future__ import annotations

from lastscrew.audit.text import audit_reading
from lastscrew.device.reading import load_device
from lastscrew.paper.procedure import procedures_of
from lastscrew.paper.procedure_page import markdown
from lastscrew.reading import load_lexicon, read
from lastscrew.reading.sources import open_source

MILL = """\
format: 1
device: {name: Kaffeemühle KM 2}
tools: {key: {name: Schlüssel 8, fits: [AF8]}}
fasteners: {nut: {thread: M5, drive: AF8}}
supplies: {ring: {name: Dichtring, unit: piece}, fett: {name: Fett, unit: g}}
parts:
  body: {name: Gehäuse, fixed: true}
  motor: {name: Motor mit Mahlwerk}
joints:
  plug: {kind: plug, joins: [motor, body], isolates: true}
  nuts: {kind: nut, joins: [motor, body], fastener: nut, count: 3, tool: key, with: {Scheibe: 3}, renew: {fett: 2}}
  seat: {kind: seat, joins: [motor, body], after: [nuts], reuse: single_use, renew: {ring: 1}}
"""


def told(text: str) -> list[str]:
    """Every sentence of the steps of both halves."""
    device = load_device(text)
    halves = [h for p in procedures_of(device) for h in (p.removal, p.refit) if h is not None]
    return [sentence for half in halves for step in half.steps for sentence in step.sentences]


def test_german_names_keep_their_capitals() -> None:
    """Nouns of a file with German names are written as they are; English ones are made small."""
    assert "Lift the Motor mit Mahlwerk from the Gehäuse." in told(MILL)
    english = MILL.replace("Gehäuse", "Housing").replace("Kaffeemühle", "Mill")
    assert "Lift the motor mit Mahlwerk from the housing." in told(english)


def test_names_written_with_capitals_throughout_keep_them() -> None:
    """Who writes "Bottom Cover" "Main Board" means it so; "bottom Cover" would be neither."""
    text = MILL.replace("Gehäuse", "Base Frame").replace("Motor mit Mahlwerk", "Drive Unit")
    assert "Lift the Drive Unit from the Base Frame." in told(text)


def test_a_plug_of_something_with_a_long_name_stands_before_it() -> None:
    """A preposition within the name would tear the plug from what it belongs to."""
    text = MILL.replace("Motor mit Mahlwerk", "Wheel with motor").replace("Gehäuse", "Frame")
    assert "Disconnect the plug of the wheel with motor from the frame." in told(text)


def test_what_is_used_once_is_new_and_not_the_part_that_lies_in_it() -> None:
    """The seal between them is new; the part itself goes back."""
    sentences = told(MILL)
    assert "Use a new Dichtring." in sentences
    assert "Install the Motor mit Mahlwerk on the Gehäuse." in sentences
    assert [s for s in sentences if "Fett" in s or " g." in s] == [
        "Apply new Fett.",
        "The amount is 2 g.",
    ]


def test_loose_pieces_stand_in_both_halves() -> None:
    """Washers that came off go back: none stays in the dish."""
    assert told(MILL).count("The loose pieces with it are 3 × Scheibe.") == 2


def test_a_text_with_german_names_audits_clean() -> None:
    """Nothing is found in what was written, whatever its parts are called."""
    device, lexicon = load_device(MILL), load_lexicon()
    text = markdown(device, procedures_of(device)).encode()
    assert audit_reading(read(open_source(text, "mill.md"), lexicon), lexicon) == ()
