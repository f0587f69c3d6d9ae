"""The pages of the work, without a browser: what they take in, what they refuse, what they show."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import translation
from PIL import Image

from lastscrew.bench.depot.event_words import say
from lastscrew.bench.models import Branch, PartLineState, Unit
from lastscrew.bench.store.adding import add_run_events
from lastscrew.bench.store.clock import new_key
from lastscrew.bench.store.jobs import forget_everything, load_job
from lastscrew.run import events as e
from lastscrew.run.events import Event
from tests.bench.conftest import Bench
from tests.bench.store import making
from tests.bench.work.conftest import Screen


@pytest.fixture
def job(bench: Bench) -> Iterator[Client]:
    """Somebody at a job to exchange the fan (run ``r1``, unit ``u1``)."""
    forget_everything()
    making.begin(replace=("fan",))
    yield bench.client("technician")
    forget_everything()


def sent(
    client: Client, *what: dict[str, Any], screen: str = "s1", first: int = 0, base: int = 1
) -> Any:  # noqa: ANN401
    """What the server answers to a batch of a screen."""
    events = [
        {
            "id": f"{screen}-{first + n}",
            "client": screen,
            "sequence": first + n,
            "base": base,
            **each,
        }
        for n, each in enumerate(what)
    ]
    return client.post(
        "/runs/r1/events.json",
        json.dumps({"client": screen, "events": events}),
        content_type="application/json",
    )


def opened(joint: str) -> dict[str, Any]:
    return {"event": "opened", "joint": joint}


def work(*replace: str) -> Screen:
    """The whole job, worked in order, to take its events from."""
    screen = Screen.at(making.demo(), *(replace or ("fan",)))
    screen.tap_until()
    return screen


def done(run: str = "r1", *replace: str) -> None:
    """Have a job worked to its end."""
    events = [Event(id=new_key(), what=each.what) for each in work(*replace).events[1:]]
    add_run_events(run, events, by="Ada")


# --- the door for what happens ----------------------------------------------------------------------


def test_what_a_screen_sends_is_stored_once_and_in_order(job: Client) -> None:
    answer = sent(job, opened("foot_bond"), opened("cover_screws"))
    assert answer.json() == {
        "version": 3, "accepted": ["s1-0", "s1-1"], "waiting": [], "branch": None, "problems": [],
    }  # fmt: skip
    assert sent(job, opened("foot_bond"), opened("cover_screws")).json()["version"] == 3
    assert load_job("r1").state.open == ("foot_bond", "cover_screws")


def test_a_gap_waits_and_is_in_force_once_it_is_filled(job: Client) -> None:
    assert sent(job, opened("cover_screws"), first=1).json()["waiting"] == ["s1-1"]
    assert sent(job, opened("foot_bond"), first=0).json()["version"] == 3


def test_what_was_done_without_knowing_of_another_screen_goes_on_a_branch(job: Client) -> None:
    sent(job, opened("foot_bond"), screen="s1")
    answer = sent(job, opened("foot_bond"), opened("cover_screws"), screen="s2").json()
    assert answer["branch"]
    assert answer["accepted"] == []
    assert job.get("/runs/r1/version.json").json() == {"version": 2, "split": ["s2"]}


@pytest.mark.parametrize(
    "body",
    [
        b"", b"[]", b"{", b'{"client": "s"}', b'{"client": "s", "events": [1]}',
        b'{"client": 5, "events": []}', b'{"client": "s", "events": [{"id": "a", "event": "opened"}]}',
        b'{"client": "s", "events": [{"id": "a", "event": "paused", "client": "t"}]}',
        b'{"client": "s", "events": [{"id": "a", "event": "paused"}]}',
        b"[" * 5_000, b'{"client": "s", "events": ' + b"[" * 5_000,
        b'{"client": "s", "events": [' + b"{}," * 300 + b"{}]}", b"\xff\xfe", b"x" * 1_200_000,
    ],
)  # fmt: skip
def test_a_body_that_is_no_batch_is_refused_in_the_one_shape(job: Client, body: bytes) -> None:
    answer = job.post("/runs/r1/events.json", body, content_type="application/json")
    assert answer.status_code == 400
    assert answer.json()["problems"][0]["message"]
    assert load_job("r1").state.version == 1


def test_all_problems_of_a_batch_are_told_and_nothing_of_it_is_stored(job: Client) -> None:
    answer = sent(job, opened("foot_bond"), {"event": "opend"}, {"event": "opened", "joint": 3})
    assert answer.status_code == 400
    assert len(answer.json()["problems"]) == 2
    assert load_job("r1").state.version == 1


def test_the_value_of_the_page_follows_every_event(job: Client) -> None:
    first = job.get("/runs/r1/bundle.json").json()["bundle"]
    assert first["version"] == 1
    sent(job, opened("foot_bond"))
    second = job.get("/runs/r1/bundle.json").json()["bundle"]
    assert second["version"] == 2
    tapped = [
        tap["is_done"] for stage in second["stages"] for i in stage["items"] for tap in i["taps"]
    ]
    assert sum(tapped) == 1


def test_guests_look_and_nobody_else_is_let_in(bench: Bench) -> None:
    forget_everything()
    making.begin(replace=("fan",))
    guest = bench.client("guest")
    assert guest.get("/runs/r1/work/").status_code == 200
    assert sent(guest, opened("foot_bond")).status_code == 403
    for page in ("park", "prove", "histories"):
        assert guest.get(f"/runs/r1/{page}/").status_code == 200
        assert guest.post(f"/runs/r1/{page}/", {"do": "park"}).status_code == 403


@pytest.mark.parametrize(
    "page", ["work/", "bundle.json", "version.json", "park/", "prove/", "histories/"]
)
def test_a_job_that_is_none_is_not_found(bench: Bench, page: str) -> None:
    assert bench.client("lead").get(f"/runs/none/{page}").status_code == 404


def test_pages_ask_the_database_a_bounded_number_of_times(job: Client) -> None:
    done()
    for page in ("work/", "bundle.json", "version.json", "park/", "prove/", "histories/"):
        job.get(f"/runs/r1/{page}")
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert job.get(f"/runs/r1/{page}").status_code == 200
        assert len(queries) <= 14, (page, [q["sql"][:90] for q in queries])


def test_a_photo_is_kept_and_named_by_its_content(job: Client) -> None:
    picture = io.BytesIO()
    Image.new("RGB", (40, 30), "white").save(picture, "PNG")
    picture.seek(0)
    picture.name = "photo"
    answer = job.post("/runs/r1/photo.json", {"photo": picture})
    assert len(answer.json()["sha256"]) == 64
    no_picture = io.BytesIO(b"<script>alert(1)</script>")
    no_picture.name = "x.png"
    assert job.post("/runs/r1/photo.json", {"photo": no_picture}).status_code == 400
    assert job.post("/runs/r1/photo.json").status_code == 400


# --- proving ------------------------------------------------------------------------------------------


def shown(client: Client, page: str) -> str:
    return client.get(f"/runs/r1/{page}/").content.decode()


def test_checks_follow_from_the_work_and_are_compared_with_those_before(job: Client) -> None:
    Unit.objects.filter(pk="u1").update(checks_before={"cooling": "works", "boots": "fails"})
    done()
    assert "Before opening: works" in shown(job, "prove")
    job.post("/runs/r1/prove/", {"do": "check", "function": "cooling", "outcome": "fails"})
    page = shown(job, "prove")
    assert "it worked before the work" in page
    assert "/units/u1/fault/" in page


def test_a_measured_check_asks_for_its_value_and_knows_its_limits(job: Client) -> None:
    done()
    post = {"do": "check", "function": "cooling", "outcome": "works"}
    job.post("/runs/r1/prove/", post)
    assert load_job("r1").state.checks.get(("cooling", "after")) is None
    job.post("/runs/r1/prove/", {**post, "value": "95,5"})
    assert "outside the limits" in shown(job, "prove")
    job.post("/runs/r1/prove/", {**post, "value": "nan"})
    job.post("/runs/r1/prove/", {**post, "value": "70"})
    assert load_job("r1").state.checks["cooling", "after"].value == 70


def test_who_says_that_a_check_works_is_led_to_the_next_one(job: Client) -> None:
    """With keys or a thumb the next open check is at hand; what went wrong is told at the top."""
    done()
    post = {"do": "check", "function": "cooling", "outcome": "works"}
    assert job.post("/runs/r1/prove/", post).headers["Location"] == "/runs/r1/prove/#main"
    place = job.post("/runs/r1/prove/", {**post, "value": "70"}).headers["Location"]
    assert place.startswith("/runs/r1/prove/#check-")
    assert f'id="{place.partition("#")[2]}"' in shown(job, "prove")
    assert place != "/runs/r1/prove/#check-cooling"
    assert job.post("/runs/r1/prove/", post).headers["Location"] == "/runs/r1/prove/#main"
    failed = {"do": "check", "function": "boots", "outcome": "fails"}
    assert job.post("/runs/r1/prove/", failed).headers["Location"] == "/runs/r1/prove/#main"


def test_a_form_that_is_sent_twice_counts_once(job: Client) -> None:
    done()
    before = load_job("r1").state.version
    post = {"do": "check", "key": new_key(), "function": "boots", "outcome": "works"}
    for _ in range(2):
        job.post("/runs/r1/prove/", post)
    assert load_job("r1").state.version == before + 1


def test_a_waiver_needs_a_lead_a_name_and_a_reason(job: Client, bench: Bench) -> None:
    done()
    post = {
        "do": "waive",
        "field": "function",
        "value": "boots",
        "person": "Bo",
        "reason": "no charger",
    }
    job.post("/runs/r1/prove/", post)
    lead = bench.client("lead")
    lead.post("/runs/r1/prove/", {**post, "reason": " "})
    assert load_job("r1").state.waivers == ()
    lead.post("/runs/r1/prove/", post)
    assert [each.person for each in load_job("r1").state.waivers] == ["Bo"]


def test_a_lost_screw_is_searched_for_and_may_be_found(job: Client) -> None:
    for what in (opened("foot_bond"), opened("cover_screws")):
        add_run_events("r1", [Event(id=new_key(), what=e.Opened(joint=what["joint"]))], by="Ada")
    add_run_events("r1", [Event(id="lost1", what=e.Lost(joint="cover_screws", count=1))], by="Ada")
    assert "lost1" in shown(job, "prove")
    job.post("/runs/r1/prove/", {"do": "searched", "about": "lost1", "found": "1"})
    assert "lost1" not in shown(job, "prove")


def test_a_piece_left_over_is_thrown_away_where_the_books_are_shown(job: Client) -> None:
    """A lost screw that turns up after a new one went in lies out for good: no step of the work takes it."""
    for what in (
        e.Opened(joint="foot_bond"),
        e.Opened(joint="cover_screws", compartment="A2"),
        e.Lost(joint="cover_screws", count=1),
        e.Closed(joint="cover_screws", new=1),
        e.Found(joint="cover_screws", count=1),
    ):
        add_run_events("r1", [Event(id=new_key(), what=what)], by="Ada")
    page = shown(job, "prove")
    assert "lies out" in page
    assert 'href="#books"' in page
    sent_again = {"do": "scrap", "key": "k1", "joint": "cover_screws"}
    job.post("/runs/r1/prove/", {**sent_again, "piece": "nothing_like_it"})
    assert "lies out" in shown(job, "prove")
    kind = re.findall(r'name="piece" value="([^"]+)"', page)[0]
    job.post("/runs/r1/prove/", {**sent_again, "piece": kind})
    job.post("/runs/r1/prove/", {**sent_again, "piece": kind})
    assert "lies out" not in shown(job, "prove")
    thrown = [each for each in load_job("r1").events if isinstance(each.what, e.Scrapped)]
    assert len(thrown) == 1


def test_pieces_of_an_open_joint_are_not_offered_to_be_thrown_away(job: Client) -> None:
    """What still goes in again is no waste, and a form that says so is not followed."""
    for what in (e.Opened(joint="foot_bond"), e.Opened(joint="cover_screws", compartment="A2")):
        add_run_events("r1", [Event(id=new_key(), what=what)], by="Ada")
    page = shown(job, "prove")
    assert 'value="scrap"' not in page
    job.post("/runs/r1/prove/", {"do": "scrap", "joint": "cover_screws", "piece": "m2x4_t5"})
    assert not [x for x in load_job("r1").events if isinstance(x.what, e.Scrapped)]


def test_a_value_is_shown_as_it_was_read_and_what_was_seen_stands_beside_it(job: Client) -> None:
    """No decimals that nobody measured; words that somebody wrote are not lost."""
    done()
    check = {
        "do": "check",
        "function": "cooling",
        "outcome": "works",
        "value": "150,5",
        "text": "whistles",
    }
    job.post("/runs/r1/prove/", check)
    page = shown(job, "prove")
    assert "150.5 °C" in page
    assert "150.500" not in page
    assert "whistles" in page
    told = say(
        e.Checked(function="cooling", outcome="works", value=150.5, unit="°C"), making.demo()
    )
    assert told == "Cooling: fails; 150.5 °C; outside the limits"


def test_the_identity_of_a_new_board_is_carried_over_and_its_serial_written_down(
    bench: Bench,
) -> None:
    forget_everything()
    making.begin(replace=("board",))
    client = bench.client("technician")
    screen = work("board")
    events = [each.what for each in screen.events[1:]]
    events = [
        e.Exchanged(part="board") if isinstance(each, e.Exchanged) else each for each in events
    ]
    add_run_events("r1", [Event(id=new_key(), what=each) for each in events], by="Ada")
    page = shown(client, "prove")
    assert "is to be carried over to it" in page
    exchange = next(x.id for x in load_job("r1").state.log if isinstance(x.what, e.Exchanged))
    client.post(
        "/runs/r1/prove/",
        {"do": "serial", "exchange": exchange, "new_serial": "B-2", "old_serial": "B-1"},
    )
    client.post(
        "/runs/r1/prove/",
        {"do": "carry", "part": "board", "what": "serial number", "value": "SN-u1"},
    )
    state = load_job("r1").state
    assert [(x.old_serial, x.new_serial) for x in state.exchanged] == [("B-1", "B-2")]
    assert [x.value for x in state.carried_over] == ["SN-u1"]
    assert "is to be carried over to it" not in shown(client, "prove")


def test_a_beginners_work_waits_for_somebody_elses_look(bench: Bench) -> None:
    forget_everything()
    making.begin(replace=("fan",))
    beginner = bench.person("technician", "dee")
    beginner.is_beginner = True
    beginner.save()
    events = [Event(id=new_key(), what=each.what) for each in work().events[1:]]
    add_run_events("r1", events, by=str(beginner))
    client = bench.client("lead")
    assert "The look of a second person" in shown(client, "prove")
    own = Client(HTTP_HOST="localhost")
    own.force_login(beginner)
    own.post("/runs/r1/prove/", {"do": "look", "good": "1", "person": "dee"})
    assert "must look at this work" in shown(client, "prove")
    client.post("/runs/r1/prove/", {"do": "look", "good": "1", "person": "Bo", "text": "neat"})
    assert "must look at this work" not in shown(client, "prove")
    assert "neat" in shown(client, "prove")


def test_standing_checks_are_asked_for_again_after_more_work(job: Client) -> None:
    done()
    assert "Everything works" in shown(job, "prove")
    job.post("/runs/r1/prove/", {"do": "standing", "check": "works", "outcome": "works"})
    article = shown(job, "prove").split('id="standing-works"')[1][:80]
    assert "✓" in article
    add_run_events("r1", [Event(id=new_key(), what=e.Opened(joint="foot_bond"))], by="Ada")
    page = shown(job, "prove")
    assert "✓" not in page.split('id="standing-works"')[1][:80]
    assert "Now: worked on again since it was tried" in page


def test_a_final_check_is_let_stand_by_a_lead_with_a_name_and_a_reason(
    job: Client, bench: Bench
) -> None:
    done()
    stand = {"do": "waive", "field": "check", "value": "works", "person": "Bo"}
    job.post("/runs/r1/prove/", {**stand, "reason": "no mains here"})
    bench.client("lead").post("/runs/r1/prove/", {**stand, "reason": ""})
    assert load_job("r1").state.waivers == ()
    bench.client("lead").post("/runs/r1/prove/", {**stand, "reason": "no mains here"})
    assert [each.check for each in load_job("r1").state.waivers] == ["works"]
    page = shown(job, "prove")
    assert page.count("Now: let stand") == 1
    assert "Everything works" in bench.client("guest").get("/units/u1/record/").content.decode()


# --- parking --------------------------------------------------------------------------------------------


def test_a_parked_job_is_counted_before_work_goes_on(job: Client) -> None:
    sent(job, opened("foot_bond"), opened("cover_screws"))
    job.post(
        "/runs/r1/park/",
        {
            "do": "park",
            "machine": "shelf 3",
            "tray": "T1",
            "waiting_for": "a part",
            "until": "2027-01-05",
        },
    )
    parked = load_job("r1").state.parked
    assert parked is not None
    assert (parked.place, parked.waiting_for) == ("shelf 3; tray: T1", "a part")
    unit = Unit.objects.get(pk="u1")
    # On the overview it lies where everything of that shelf lies, and the label of the shelf finds it.
    assert (unit.stage, unit.place) == ("parked", "shelf 3")
    assert job.get("/find/?q=Shelf+3").headers["Location"] == "/?place=shelf+3"
    # So does the label of the tray.
    assert job.get("/find/?q=T1").headers["Location"] == "/units/u1/"
    page = shown(job, "park")
    assert "Count, then go on" in page
    # Nobody is told what to find: seven lie out.
    assert "7 ×" not in page
    assert ">7<" not in page
    job.post("/runs/r1/park/", {"do": "resume"})
    assert load_job("r1").state.parked is not None
    answer = job.post("/runs/r1/park/", {"do": "resume", "count_m2x4_t5": "6"})
    assert answer.headers["Location"] == "/runs/r1/park/"
    assert load_job("r1").state.parked is None
    page = shown(job, "park")
    assert "What was counted differs from the books" in page
    assert '<td class="number">6</td><td class="number">7</td><td><b>differs</b></td>' in page
    assert "1 × M2 × 4 mm countersunk T5 black fewer than the books say" in shown(job, "prove")


def test_what_is_counted_as_the_books_have_it_leads_back_to_the_work(job: Client) -> None:
    sent(job, opened("foot_bond"), opened("cover_screws"))
    job.post("/runs/r1/park/", {"do": "park", "machine": "shelf 3"})
    assert load_job("r1").state.parked is None  # for what it waits was not said
    job.post("/runs/r1/park/", {"do": "park", "machine": "shelf 3", "waiting_for": "Ada"})
    answer = job.post("/runs/r1/park/", {"do": "resume", "count_m2x4_t5": "7"})
    assert answer.headers["Location"] == "/runs/r1/work/"
    assert "<b>differs</b>" not in shown(job, "park")


def test_of_what_was_never_ordered_nobody_says_that_it_came_dead_or_went_back(job: Client) -> None:
    sent(job, {"event": "broken", "joint": "cover_clips", "count": 1})
    page = shown(job, "park")
    (line,) = re.findall(r'name="line" value="(broken:[^"]+)"', page)

    def offered() -> set[str]:
        form = shown(job, "park").split(f'value="{line}">')[1].split("</form>")[0]
        return set(re.findall(r'<option value="([^"]+)"', form))

    assert offered() == {"to_order", "ordered", "received", "fitted"}
    job.post("/runs/r1/park/", {"do": "line", "line": line, "state": "dead_on_arrival"})
    assert not PartLineState.objects.filter(line=line).exists()
    for state in ("to_order", "ordered"):
        job.post("/runs/r1/park/", {"do": "line", "line": line, "state": state})
    assert {"dead_on_arrival", "returned"} < offered()


def test_only_a_part_can_be_dead_on_arrival(job: Client) -> None:
    page = shown(job, "park")
    lines = re.findall(r'name="line" value="([^"]+)">(.*?)</form>', page, re.DOTALL)
    offered = {line: "dead_on_arrival" in choices for line, choices in lines}
    assert offered["part:fan"]
    assert {line for line, dead in offered.items() if dead} == {"part:fan"}
    assert any(line.startswith("supply:") for line in offered)
    job.post(
        "/runs/r1/park/", {"do": "line", "line": "supply:fan_tape", "state": "dead_on_arrival"}
    )
    assert load_job("r1").state.version == 1


def test_parking_an_open_live_machine_is_warned_of(job: Client) -> None:
    sent(job, opened("foot_bond"), opened("cover_screws"))
    assert "its power is not taken away" in shown(job, "park")


@pytest.mark.parametrize("post", [{}, {"machine": "shelf", "until": "soon"}, {"machine": " "}])
def test_parking_without_a_place_or_with_a_wrong_day_is_refused(
    job: Client, post: dict[str, str]
) -> None:
    job.post("/runs/r1/park/", {"do": "park", **post})
    assert load_job("r1").state.parked is None


def test_lines_of_the_order_are_kept_here(job: Client) -> None:
    job.post("/runs/r1/park/", {"do": "line", "line": "part:fan", "state": "ordered"})
    job.post("/runs/r1/park/", {"do": "line", "line": "part:fan", "state": "old_kept"})
    job.post("/runs/r1/park/", {"do": "new_line", "order_code": "Q-1", "count": "2"})
    job.post("/runs/r1/park/", {"do": "new_line", "order_code": "Q-2", "count": "none"})
    told = [each.what for each in load_job("r1").state.log if isinstance(each.what, e.PartLine)]
    assert [(each.line == "part:fan", each.state, each.count) for each in told] == [
        (True, "ordered", 1),
        (False, "to_order", 2),
    ]


# --- two histories -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("do", "opened_joints"), [("take", 3), ("set_aside", 1)])
def test_both_histories_are_shown_and_a_person_decides(
    job: Client, do: str, opened_joints: int
) -> None:
    sent(job, opened("foot_bond"), screen="s1")
    sent(job, opened("cover_screws"), opened("cover_screws_rear"), screen="s2")
    page = shown(job, "histories")
    assert "Cover screws opened" in page
    assert "Foot bond opened" in page
    branch = Branch.objects.get(run="r1")
    job.post("/runs/r1/histories/", {"do": do, "branch": branch.key, "reason": " "})
    assert load_job("r1").run.is_split
    job.post("/runs/r1/histories/", {"do": do, "branch": branch.key, "reason": "looked"})
    assert len(load_job("r1").state.open) == opened_joints
    assert not load_job("r1").run.is_split
    assert len(Branch.objects.get(run="r1").events) == 2


def test_a_history_of_another_job_is_not_decided_here(job: Client) -> None:
    sent(job, opened("foot_bond"), screen="s1")
    sent(job, opened("cover_screws"), screen="s2")
    making.unit("u2")
    add_run_events("r2", [Event(id="r2-s", what=making.started())], by="Ada", unit="u2")
    branch = Branch.objects.get(run="r1")
    job.post("/runs/r2/histories/", {"do": "take", "branch": branch.key, "reason": "x"})
    assert Branch.objects.get(run="r1").state == "open"


def test_what_a_lost_screen_has_sent_can_be_decided_on(job: Client) -> None:
    sent(job, opened("cover_screws"), first=1)
    assert "That screen is lost" in shown(job, "histories")
    job.post("/runs/r1/histories/", {"do": "give_up", "client": "s1"})
    branch = Branch.objects.get(run="r1", state="open")
    page = shown(job, "histories")
    assert "Screens held to be lost" in page
    assert "some_technician: one entry is decided on without what came before it" in page
    job.post("/runs/r1/histories/", {"do": "take", "branch": branch.key, "reason": "seen there"})
    assert "some_technician: 1 entry, taken over: seen there" in shown(job, "histories")


def test_script_in_names_and_notes_is_shown_as_text(job: Client) -> None:
    bad = "<script>alert(1)</script>"
    job.post("/runs/r1/park/", {"do": "park", "machine": bad, "waiting_for": bad})
    job.post("/runs/r1/park/", {"do": "new_line", "order_code": bad, "count": "1"})
    for page in ("park", "prove", "histories", "work"):
        assert bad not in shown(job, page)


def test_stock_below_nothing_is_said_to_want_a_count(job: Client) -> None:
    """A supply that nobody counted and a job used up stands below nothing: a number to be put right, not to be read."""
    renewed = e.Renewed(supply="fan_tape", amount=2, joint="fan_tape")
    add_run_events("r1", [Event(id=new_key(), what=renewed)], by="Ada")
    page = job.get("/stock/").content.decode()
    assert "-2" in page
    assert "count it" in page


def test_values_and_limits_have_the_decimal_sign_of_the_language(job: Client) -> None:
    """The same number on the checks, in the record and in the story; a comma where people write one."""
    done()
    job.post(
        "/runs/r1/prove/",
        {"do": "check", "function": "charging", "outcome": "works", "value": "150.5"},
    )
    job.cookies["lastscrew_language"] = "de"
    # A request leaves its language behind in the thread: what comes after this test speaks as before.
    with translation.override("en"):
        for address in ("/runs/r1/prove/", "/units/u1/record/", "/units/u1/"):
            page = job.get(address).content.decode()
            assert "150,5" in page, address
            assert "150.5" not in page, address
