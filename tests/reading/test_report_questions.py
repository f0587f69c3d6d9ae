"""Open questions in the report: alike ones together, every name kept, merges shown on the page as well."""

from __future__ import annotations

from lastscrew.reading.model import Line, LineState, Question, Reading, Source
from lastscrew.reading.report import asked_together, html_report

QUESTIONS = (
    Question("fixed", "What stays on the bench?", assumed="Chassis", weight=900),
    Question("under.fan_plug", "Fan plug: what lies over it?", 4, "Cover", 300),
    Question("count.fan_clip", "Fan clip: how many?", 6, "1", 290),
    Question("under.fan_screws", "Fan screws: what lies over it?", 5, "Cover", 280),
    Question("under.board_seat", "Board seat: what lies over it?", 9, "Cover, Fan", 270),
)


def test_questions_of_one_answer_are_asked_once() -> None:
    """Those that assume the same stand together at the first of them, in the order of consequence."""
    asked = asked_together(QUESTIONS)
    assert [a.ids for a in asked] == [
        ("fixed",),
        ("under.fan_plug", "under.fan_screws"),
        ("count.fan_clip",),
        ("under.board_seat",),
    ]
    assert asked[1].text == "What lies over these 2 joints? (lines 4, 5) Assumed: Cover."


def test_the_page_shows_names_and_merges() -> None:
    """Whoever answers needs the name of the question; whoever refuses a merge, its option."""
    source = Source("fan.txt", "text", (Line(1, "Removing the <fan>"),))
    reading = Reading(
        source,
        (),
        (LineState(1, "heading"),),
        questions=QUESTIONS,
        merges=(("blower", "fan", "two words for one thing"),),
    )
    page = html_report(reading)
    assert "<code>under.fan_plug</code>, <code>under.fan_screws</code>" in page
    assert "--keep-apart &quot;blower=fan&quot;" in page
    assert "<fan>" not in page
