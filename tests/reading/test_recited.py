"""Transcripts that were written before they were spoken: whole sentences over captions, with spoken titles."""

from __future__ import annotations

from lastscrew.reading import Reading, read
from lastscrew.reading.sources import open_source

FILM = (
    ("This film shows how to service the drinking fountain.", "The work takes ten minutes."),
    ("Removing the carbon block.",),
    ("Before you begin, make sure that the", "inlet valve is closed."),
    ("Press the two tabs at the sides of the", "drip tray, and pull the tray out."),
    ("Unscrew the bowl, and discard the carbon", "block."),
    ("Removing the pump.",),
    ("Disconnect the pump cable from the control", "board. Do not pull on the wires."),
    ("Remove the three screws that hold the", "pump to the base plate. Lift out the"),
    ("pump.",),
    ("Installing the pump.",),
    ("Lower the pump onto the base plate, and", "fasten it with the three screws."),
)


def captions(*, chatty: bool = False) -> Reading:
    rows: list[str] = []
    for number, cue in enumerate(FILM, 1):
        text = "\n".join(cue)
        if chatty:
            text = f"Okay, that's it, so {text[0].lower()}{text[1:]}"
        rows.append(
            f"{number}\n00:00:{4 * number:02},000 --> 00:00:{4 * number + 3:02},500\n{text}\n"
        )
    return read(open_source("\n".join(rows).encode(), "fountain.srt"))


def test_spoken_titles_open_procedures_and_order_nothing() -> None:
    """A gerund that fills a caption alone is a heading, and what the caption after it says is in its procedure."""
    reading = captions()
    assert [(p.part, p.kind) for p in reading.procedures] == [
        ("carbon block", "removal"),
        ("pump", "removal"),
        ("pump", "refit"),
    ]
    assert reading.lines[FIRST_TITLE - 1].state == "heading"
    assert [(item.kind, item.text) for item in reading.procedures[0].prerequisites] == [
        ("state", "inlet valve closed")
    ]


def test_sentences_cut_by_captions_keep_the_line_of_each_verb() -> None:
    """An order that begins in one caption and ends in the next stands on the line of its verb."""
    pump = captions().procedures[1]
    assert [(a.klass, a.count, a.line) for a in pump.actions()] == [
        ("disconnect", 1, FIRST_TITLE + 23),
        ("remove", 3, FIRST_TITLE + 28),
        ("lift", None, FIRST_TITLE + 29),
    ]


def test_a_talk_is_not_taken_for_a_recited_text() -> None:
    """The same captions with turns of talk are read as speech: a gerund is no heading there, whatever it opens."""
    assert not any(procedure.kind == "both" for procedure in captions(chatty=True).procedures)
    assert captions(chatty=True).lines[FIRST_TITLE - 1].state != "heading"


def test_numbered_titles_name_a_part_or_the_work() -> None:
    """A numbered title may name the part alone; turning a machine over is not switching it off."""
    cues = (
        "In this chapter we will look at the replacement of the grinder, which takes about ten minutes in all.",
        "Step one. Opening the housing.",
        "Unplug the machine. Turn it upside down, and loosen the five screws in the base.",
        "Then turn the machine over again, and take the housing off towards the rear of the machine.",
        "Step two. The grinder.",
        "Pull the two connectors off the motor, undo the three screws, and lift the grinder out of the frame.",
    )
    rows = [
        f"{n}\n00:01:{4 * n:02},000 --> 00:01:{4 * n + 3:02},500\n{text}\n"
        for n, text in enumerate(cues, 1)
    ]
    reading = read(open_source("\n".join(rows).encode(), "grinder.srt"))
    assert [p.part for p in reading.procedures] == ["housing", "grinder"]
    assert [(a.klass, a.count) for a in reading.procedures[0].actions() if a.fastener] == [
        ("loosen", 5)
    ]


FIRST_TITLE = 8
"""Line of the first title: number, time, two lines and a blank come before, number and time again."""
