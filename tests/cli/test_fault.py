"""``lastscrew fault`` as a stranger uses it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from click.testing import CliRunner, Result
from rich.cells import cell_len

from lastscrew.cli.fault_text import Page, advice_text, cost_words
from lastscrew.cli.main import main
from lastscrew.faults.evidence import Evidence
from lastscrew.faults.proposing import propose
from tests.faults.lantern import LANTERN, lantern

Values = dict[str, Any]
Run = Callable[..., Result]
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def cache(tmp_path: Path) -> Path:
    """A cache directory of its own."""
    return tmp_path / "cache"


@pytest.fixture
def lantern_file(tmp_path: Path) -> str:
    """The lantern as a file."""
    path = tmp_path / "lantern.device.yaml"
    path.write_text(LANTERN, encoding="utf-8")
    return str(path)


def running(file: str, cache: Path) -> Run:
    """``lastscrew fault`` on one file, with one cache."""

    def run(*arguments: str, width: int = 80, file: str = file) -> Result:
        return CliRunner().invoke(
            main,
            ["fault", file, *arguments],
            env={"COLUMNS": str(width), "LASTSCREW_CACHE": str(cache)},
            catch_exceptions=False,
        )

    return run


@pytest.fixture(scope="module")
def used_cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cache as it is where the command was used before; what it holds changes no answer (see below)."""
    return tmp_path_factory.mktemp("cache")


@pytest.fixture
def fault(lantern_file: str, used_cache: Path) -> Run:
    """Run ``lastscrew fault`` on the lantern."""
    return running(lantern_file, used_cache)


@pytest.fixture
def first_fault(lantern_file: str, cache: Path) -> Run:
    """Run it where it was never used before."""
    return running(lantern_file, cache)


def as_json(result: Result) -> Values:
    """The object that a command printed."""
    assert result.exit_code == 0, result.output
    value = json.loads(result.stdout)
    assert isinstance(value, dict)
    return value


# --- JSON ---------------------------------------------------------------------------------------------


def test_json_has_the_shape_that_is_promised(fault: Run) -> None:
    """Posterior, next with its four keys, expected cost, lower bound and whether it is proven; numbers add up."""
    value = as_json(fault("--shows", "dark", "--json"))
    assert [set(row) for row in value["posterior"]] == [{"fault", "p"}] * 4
    assert sum(row["p"] for row in value["posterior"]) == pytest.approx(1, abs=1e-6)
    chances = [row["p"] for row in value["posterior"]]
    assert chances == sorted(chances, reverse=True)
    assert {"kind", "id", "expected_cost", "why"} <= set(value["next"])
    assert value["next"]["kind"] in ("check", "mend", "stop")
    assert value["next"]["expected_cost"] == value["expected_cost"]
    assert value["lower_bound"] <= value["expected_cost"]
    assert value["proven"] == (value["lower_bound"] == pytest.approx(value["expected_cost"]))
    assert value["unit"] == "s"


def test_the_posterior_is_that_of_bayes_rule(fault: Run) -> None:
    """Worked by hand: prior times 1 - (1 - p)(1 - leak) with the leak of 0.002, scaled to 1."""
    value = as_json(fault("--shows", "dark", "--json"))
    shown = {"pack_flat": 0.65, "plug_loose": 0.98, "board_dead": 0.98, "lamp_dead": 0.8}
    prior = {"pack_flat": 30, "plug_loose": 8, "board_dead": 12, "lamp_dead": 20}
    weights = {f: prior[f] * (1 - (1 - p) * (1 - 0.002)) for f, p in shown.items()}
    for row in value["posterior"]:
        expected = weights[row["fault"]] / sum(weights.values())
        assert row["p"] == pytest.approx(expected, abs=1e-8)


def test_a_small_model_is_proven_and_says_what_each_outcome_would_mean(fault: Run) -> None:
    """Outcomes' chances sum to 1; the cost now is that of the action, the opening, and what is left after it."""
    value = as_json(fault("--shows", "dark", "--json"))
    assert value["proven"] is True
    next_ = value["next"]
    assert sum(o["chance"] for o in next_["outcomes"]) == pytest.approx(1)
    assert next_["cost_after"] == pytest.approx(
        sum(o["chance"] * o["expected_cost"] for o in next_["outcomes"]), abs=0.01
    )
    now = next_["own_cost"] + next_["opening_cost"] + next_["cost_after"]
    assert value["expected_cost"] == pytest.approx(now, abs=0.01)
    rival = value["runner_up"]
    assert rival["id"] != next_["id"]
    assert rival["margin"] == pytest.approx(
        rival["expected_cost"] - value["expected_cost"], abs=0.01
    )


def test_a_flip_of_a_prior_is_real(fault: Run, lantern_file: str) -> None:
    """A prior beyond the point that is told brings another action first; short of it, the same comes first."""
    value = as_json(fault("--shows", "dim", "--json"))
    flips = [f for f in value["flips"] if f["number"] == "prior"]
    assert flips
    flip = flips[0]
    line = next(
        i for i, text in enumerate(LANTERN.split("\n")) if text.startswith(f"  {flip['fault']}:")
    )
    lines = LANTERN.split("\n")
    at = next(i for i in range(line, line + 6) if "prior:" in lines[i])
    prior = float(lines[at].partition(":")[2])
    found = {}
    for name, factor in (("short", flip["factor"] ** 0.5), ("beyond", flip["factor"] ** 1.6)):
        changed = [*lines[:at], f"    prior: {prior * factor:.6f}", *lines[at + 1 :]]
        Path(lantern_file).write_text("\n".join(changed), encoding="utf-8")
        found[name] = as_json(fault("--shows", "dim", "--json"))["next"]["id"]
    assert found["short"] == value["next"]["id"]
    assert found["beyond"] != value["next"]["id"]


def test_money_needs_the_price_of_an_hour_and_counts_prices(fault: Run) -> None:
    """At 36 an hour a second costs 0.01; the harm of a check (0.01 of 12 and of 100 s) and parts are in it."""
    value = as_json(fault("--shows", "dark", "--rate", "36", "--json"))
    plain = as_json(fault("--shows", "dark", "--json"))
    assert value["unit"] == "money"
    assert value["expected_cost"] > plain["expected_cost"] / 100
    dear = as_json(fault("--shows", "dark", "--result", "charger=good", "--rate", "36", "--json"))
    assert dear["next"]["kind"] in ("check", "mend")


def test_a_worth_below_the_price_of_going_on_stops(fault: Run) -> None:
    """What costs more than the device is worth is given up at once; a great worth is as good as none."""
    stop = as_json(fault("--shows", "dark", "--worth", "5", "--json"))
    assert stop["next"]["kind"] == "stop"
    assert stop["next"]["id"] == "stop"
    assert stop["expected_cost"] == 5
    on = as_json(fault("--shows", "dark", "--worth", "100000", "--json"))
    assert on["next"]["kind"] != "stop"


def test_the_own_check_ends_the_job(fault: Run) -> None:
    """Once everything works there is nothing left but closing what is open."""
    value = as_json(
        fault("--shows", "dark", "--result", "exchange_lamp=done", "--result", "works=works",
              "--open", "cover_screws", "--json")
    )  # fmt: skip
    assert value["next"] == {
        "kind": "stop",
        "id": "works",
        "expected_cost": value["expected_cost"],
        "why": "The device's own check was passed.",
    }
    assert value["expected_cost"] == pytest.approx(
        64
    )  # 60 s for four screws, 4 s to take up the driver


def test_what_is_open_already_is_not_paid_for_again(fault: Run) -> None:
    """With the cover off everything that lies under it is cheaper by its opening."""
    shut = as_json(fault("--shows", "dark", "--json"))
    opened = as_json(fault("--shows", "dark", "--open", "cover_screws", "--json"))
    assert opened["expected_cost"] < shut["expected_cost"]


def test_a_result_that_is_doubted_counts_as_never_given(fault: Run) -> None:
    """--doubt and leaving the result out give the same answer but for the account of it."""
    left_out = as_json(fault("--shows", "dark", "--work", "5", "--json"))
    doubted = as_json(
        fault(
            "--shows",
            "dark",
            "--result",
            "charger=good",
            "--doubt",
            "charger",
            "--work",
            "5",
            "--json",
        )
    )
    assert doubted["posterior"] == left_out["posterior"]
    assert doubted["next"] == left_out["next"]


def test_a_measured_value_stands_for_its_outcome(fault: Run) -> None:
    """2.9 V is low, 3.8 V good, 5 V high by the limits of the file."""
    for value, outcome in (("2.9", "low"), ("3.8", "good"), ("5", "high")):
        by_value = as_json(
            fault("--shows", "dark", "--result", f"pack_voltage={value}", "--work", "5", "--json")
        )
        by_name = as_json(
            fault("--shows", "dark", "--result", f"pack_voltage={outcome}", "--work", "5", "--json")
        )
        assert by_value["posterior"] == by_name["posterior"]


def test_a_value_measured_at_a_function_is_good_or_bad_by_its_limits(
    fault: Run, lantern_file: str
) -> None:
    """A fault names the function as its check: 90 lx is below its limit, 100 lx is not."""
    text = LANTERN.replace("check_s: 15}", "check_s: 15, measure: {unit: lx, low: 100}}")
    text = text.replace("checks: {charger: seldom,", "checks: {light: often, charger: seldom,")
    Path(lantern_file).write_text(text, encoding="utf-8")
    for value, outcome in (("90", "bad"), ("100", "good")):
        told = [
            as_json(fault("--result", f"light={said}", "--work", "5", "--json"))["posterior"]
            for said in (value, outcome)
        ]
        assert told[0] == told[1]


def test_liquid_asks_for_two_faults_by_itself(fault: Run) -> None:
    """A wet machine, or the word in the complaint; --second-fault 0 says no; chances then add up to more than 1."""
    for asked in (("--shows", "wet"), ("--complaint", "The owner spilled coffee over it")):
        value = as_json(fault("--shows", "dark", *asked, "--work", "5", "--json"))
        assert value["second_fault"] == pytest.approx(0.4)
        assert sum(row["p"] for row in value["posterior"]) > 1.05
        assert any("two faults at once" in remark for remark in value["remarks"])
        assert any("dry it before power is put on" in remark for remark in value["remarks"])
    value = as_json(
        fault("--shows", "dark", "--shows", "wet", "--second-fault", "0", "--work", "5", "--json")
    )
    assert value["second_fault"] == 0
    assert sum(row["p"] for row in value["posterior"]) == pytest.approx(1, abs=1e-6)
    asked_for = as_json(fault("--shows", "dark", "--two-faults", "--work", "5", "--json"))
    assert asked_for["second_fault"] == pytest.approx(0.1)


def test_words_of_the_owner_are_matched_and_left_for_a_person_to_confirm(fault: Run) -> None:
    """A complaint names what it may mean; the posterior is untouched until --shows confirms it."""
    silent = as_json(fault("--work", "5", "--json"))
    said = as_json(fault("--complaint", "It does not light up any more", "--work", "5", "--json"))
    assert said["posterior"] == silent["posterior"]
    assert any("Stays dark (dark): confirm it" in remark for remark in said["remarks"])


def test_swap_tests_need_stock(fault: Run) -> None:
    """Without a known-good lamp the swap test is left out and said so; with one it is an action like any other."""
    without = as_json(fault("--shows", "dark", "--work", "5", "--json"))
    assert any("left out: lamp" in remark for remark in without["remarks"])
    told = fault("--shows", "dark", "--result", "other_lamp=good", "--work", "5", "--json")
    assert told.exit_code == 2
    value = as_json(
        fault(
            "--shows",
            "dark",
            "--stock",
            "lamp",
            "--result",
            "other_lamp=good",
            "--work",
            "5",
            "--json",
        )
    )
    assert value["posterior"][0]["fault"] == "lamp_dead"
    assert value["posterior"][0]["p"] > 0.9
    assert as_json(fault("--shows", "dark", "--stock", "all", "--work", "5", "--json"))["posterior"]


# --- the whole strategy -------------------------------------------------------------------------------


def ends_of(tree: Values) -> list[Values]:
    """Where a strategy ends."""
    if not tree["branches"]:
        return [tree]
    return [end for branch in tree["branches"] for end in ends_of(branch)]


def test_the_tree_is_whole_and_its_chances_sum_to_one(fault: Run) -> None:
    """Every branch has its outcome; the ends' chances sum to 1; the root costs what is expected."""
    value = as_json(fault("--shows", "dark", "--tree", "--least", "0", "--json"))
    tree = value["tree"]
    assert tree["id"] == value["next"]["id"]
    assert tree["expected_cost"] == value["expected_cost"]
    ends = ends_of(tree)
    assert sum(end["chance"] for end in ends) == pytest.approx(1, abs=1e-6)
    assert {end["kind"] for end in ends} <= {"end", "stop"}


def test_the_tree_in_words_fits_and_names_every_outcome(fault: Run) -> None:
    """No line is wider than the terminal; costs are aligned at the right; outcomes carry their chances."""
    for width in (60, 80, 120):
        result = fault("--shows", "dark", "--tree", width=width)
        assert result.exit_code == 0
        lines = result.stdout.split("\n")
        assert max(cell_len(line) for line in lines) <= width
        assert any(re.search(r"good \d+ %: ", line) for line in lines)
        assert any(line.rstrip().endswith(("s", "min")) for line in lines)


def test_the_drawing_has_every_action_and_outcome(fault: Run, tmp_path: Path) -> None:
    """An SVG that can be read, with the names of actions, the outcomes and the title; the same bytes every time."""
    target = tmp_path / "strategy.svg"
    result = fault("--shows", "dark", "-o", str(target))
    assert result.exit_code == 0
    assert "drawn" in result.stdout or str(target) in result.stdout
    root = ET.fromstring(target.read_text(encoding="utf-8"))
    words = {text.text for text in root.iter(f"{SVG}text")}
    value = as_json(fault("--shows", "dark", "--tree", "--json"))
    assert value["next"]["name"] in words
    assert "Lantern: Stays dark" in words
    assert "works" in words
    first = target.read_bytes()
    fault("--shows", "dark", "-o", str(target))
    assert target.read_bytes() == first


# --- words for people ---------------------------------------------------------------------------------


def test_the_answer_names_what_a_person_needs(fault: Run) -> None:
    """What may be wrong with its frequency, what to do, why, each outcome, cost, proof, runner-up, sources, safety."""
    text = fault("--shows", "dark", width=100).stdout
    for part in (
        "Lantern, revision A: Stays dark", "what may be wrong", "Lamp is dead", "Next ", "Why ", "Outcomes",
        "Expected", "Proven: no strategy costs less", "Runner-up", "Sources", "often 0.65",
        "trained people come first",
    ):  # fmt: skip
        assert part in text, part
    assert "%  " not in text.replace(" %  ", "")
    assert not re.search(r"\d\.\d{3,}", text)


def test_a_time_and_a_share_are_not_broken_and_a_bound_that_reads_alike_is_told_as_a_share() -> (
    None
):
    """Minutes stay with their seconds; 13 min and not less than 13 min would say nothing."""
    page = Page(30, cost_words(None))
    rows = page.wrapped("no strategy costs less than 9 min 58 s, in all 12 %, 2 h 05.", 0, 0)
    assert rows == ["no strategy costs less than", "9 min 58 s, in all 12 %,", "2 h 05."]
    advice = propose(lantern(), Evidence(shows=("dark",)), work=0)
    near = replace(advice, expected_cost=800.0, lower_bound=776.0, proven=False)
    assert "Not proven: the best strategy may cost 3 % less." in advice_text(
        near, (), replace(page, width=90)
    )


@pytest.mark.parametrize("width", [40, 60, 80, 200])
def test_no_line_is_wider_than_the_terminal(fault: Run, width: int) -> None:
    """At any width that a terminal has."""
    for arguments in (
        ("--shows", "dark"),
        ("--shows", "dark", "--result", "charger=good"),
        ("--simulate", "5"),
    ):
        result = fault(*arguments, width=width)
        assert result.exit_code == 0
        if width >= 80 or "--simulate" not in arguments:
            assert max(cell_len(line) for line in result.stdout.split("\n")) <= max(width, 40)


def test_it_can_be_printed_in_ascii(fault: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the terminal has no lines and dots, plain signs stand for them."""
    monkeypatch.setenv("PYTHONIOENCODING", "ascii")
    assert fault("--shows", "dark").exit_code == 0


def test_powered_checks_on_an_open_machine_show_their_hazards_and_a_hold(fault: Run) -> None:
    """A check with power on and the cover off names what is live and open, with the signal words."""
    asked = ("--shows", "dark", "--result", "charger=bad")
    opened = ("--open", "cover_screws", "--open", "pack_plug", "--open", "lamp_plug")
    next_ = as_json(fault(*asked, *opened, "--json"))["next"]
    assert (next_["id"], next_["power"]) == ("board_light", "on")
    assert next_["live"] == ["lamp_plug"]
    assert "Lamp plug" in next_["hold"]
    assert [hazard["id"] for hazard in next_["hazards"]] == ["pack", "edge"]
    text = fault(*asked, *opened).stdout
    assert "HOLD Power is to be put on while these live joints are open: Lamp plug." in " ".join(
        text.split()
    )
    assert "CAUTION Sharp edge inside." in text


def test_work_on_the_pack_is_left_to_trained_people(fault: Run) -> None:
    """Measuring at the pack, or exchanging it, says so and shows the hazard."""
    text = fault("--shows", "dark", "--result", "charger=good").stdout
    assert "WARNING Lithium pack." in text
    assert "people trained for it" in " ".join(text.split())


# --- a simulation -------------------------------------------------------------------------------------


def test_a_simulation_repeats_and_the_proposal_is_the_cheapest(fault: Run) -> None:
    """The same seed gives the same figures; on average the proposal costs no more than the two habits."""
    value = as_json(fault("--simulate", "200", "--json"))
    assert value == as_json(fault("--simulate", "200", "--json"))
    names = [row["name"] for row in value["strategies"]]
    assert names == ["proposal", "change the likeliest part first", "cheapest check first"]
    means = {row["name"]: row["mean"] for row in value["strategies"]}
    assert means["proposal"] < means["change the likeliest part first"]
    assert means["proposal"] < means["cheapest check first"]
    other = as_json(fault("--simulate", "200", "--seed", "2", "--json"))
    assert other["strategies"] != value["strategies"]


def test_the_simulated_mean_is_what_was_expected(fault: Run) -> None:
    """Over 400 machines that all show the symptom the mean lies within four standard errors of the expected cost."""
    expected = as_json(fault("--shows", "dark", "--json"))["expected_cost"]
    value = as_json(fault("--shows", "dark", "--simulate", "400", "--json"))
    own = value["strategies"][0]
    assert abs(own["mean"] - expected) < 4 * own["error"]


# --- learning -----------------------------------------------------------------------------------------


JOBS = [
    {"job": "J-1", "faults": ["lamp_dead"], "shows": ["dark"], "results": {"charger": "bad"}},
    {"job": "J-2", "faults": ["lamp_dead"], "shows": ["dark"], "results": {"pack_voltage": 3.9}},
    {"job": "J-3", "faults": ["pack_flat"], "shows": ["dim"], "lacks": ["dark"], "results": {}},
]


@pytest.fixture
def jobs_file(tmp_path: Path) -> str:
    """Three closed jobs."""
    path = tmp_path / "jobs.jsonl"
    path.write_text("".join(json.dumps(job) + "\n" for job in JOBS), encoding="utf-8")
    return str(path)


def test_closed_jobs_are_learnt_from_and_shown_as_counts(fault: Run, jobs_file: str) -> None:
    """20 jobs' worth of the file's 20 of 70, and 2 of 3 here: (20 x 2/7 + 2) / 23."""
    value = as_json(fault("--shows", "dark", "--learn", jobs_file, "--work", "5", "--json"))
    counts = {row["fault"]: row for row in value["learnt"]["priors"]}
    lamp = counts["lamp_dead"]
    assert (lamp["seen"], lamp["of"], lamp["strength"]) == (2, 3, 20)
    assert lamp["given"] == pytest.approx(2 / 7)
    assert lamp["value"] == pytest.approx((20 * 2 / 7 + 2) / 23)
    assert value["learnt"]["jobs"] == 3
    assert "2 of 3" in fault("--shows", "dark", "--learn", jobs_file).stdout
    strong = as_json(
        fault("--shows", "dark", "--learn", jobs_file, "--strength", "0", "--work", "5", "--json")
    )
    assert {row["fault"]: row["value"] for row in strong["learnt"]["priors"]}[
        "lamp_dead"
    ] == pytest.approx(2 / 3)


def test_a_closed_job_or_one_of_its_results_can_be_taken_back(
    fault: Run, jobs_file: str, tmp_path: Path
) -> None:
    """Taken back is as if it had never been in the file."""
    value = as_json(
        fault(
            "--shows", "dark", "--learn", jobs_file, "--take-back", "J-1", "--work", "5", "--json"
        )
    )
    rest = tmp_path / "rest.jsonl"
    rest.write_text("".join(json.dumps(job) + "\n" for job in JOBS[1:]), encoding="utf-8")
    assert (
        value["learnt"]
        == as_json(fault("--shows", "dark", "--learn", str(rest), "--work", "5", "--json"))[
            "learnt"
        ]
    )
    one = as_json(
        fault(
            "--shows",
            "dark",
            "--learn",
            jobs_file,
            "--take-back",
            "J-1:charger",
            "--work",
            "5",
            "--json",
        )
    )
    assert one["learnt"]["jobs"] == 3
    assert not [row for row in one["learnt"]["chances"] if row["check"] == "charger"]


# --- kept opening costs -------------------------------------------------------------------------------


def test_opening_costs_are_kept_by_content(
    first_fault: Run, cache: Path, lantern_file: str
) -> None:
    """The second run takes them from the cache and says the same; another file, or another pace, has its own."""
    first = as_json(first_fault("--work", "5", "--json"))
    second = as_json(first_fault("--work", "5", "--json"))
    assert (first["prepared"]["from_cache"], second["prepared"]["from_cache"]) == (False, True)
    assert first["prepared"]["moves"] > 0
    assert {**first, "prepared": 0, "unfolded": 0} == {**second, "prepared": 0, "unfolded": 0}
    (kept,) = (cache / "openings").iterdir()
    first_fault("--work", "5", "--pace", "1.5")
    assert len(list((cache / "openings").iterdir())) == 2
    text = Path(lantern_file).read_text(encoding="utf-8")
    Path(lantern_file).write_text("# a comment changes nothing\n" + text, encoding="utf-8")
    assert as_json(first_fault("--work", "5", "--json"))["prepared"]["from_cache"] is True
    Path(lantern_file).write_text(text.replace("open_s: 40", "open_s: 41"), encoding="utf-8")
    assert as_json(first_fault("--work", "5", "--json"))["prepared"]["from_cache"] is False
    assert kept.exists()


@pytest.mark.parametrize(
    "content",
    [
        "",
        "{",
        "[]",
        '{"format": 3}',
        '{"format": 3, "ready": [1], "moves": 3}',
        '{"format": 3, "ready": [], "moves": [["x"]], "rough": [], "closings": []}',
    ],
)
def test_a_spoilt_cache_is_worked_around(first_fault: Run, cache: Path, content: str) -> None:
    """What can't be read is worked out anew and put right."""
    first = as_json(first_fault("--work", "5", "--json"))
    (kept,) = (cache / "openings").iterdir()
    kept.write_text(content, encoding="utf-8")
    again = as_json(first_fault("--work", "5", "--json"))
    assert again["expected_cost"] == first["expected_cost"]
    assert as_json(first_fault("--work", "5", "--json"))["prepared"]["from_cache"] is True


def test_no_cache_is_written_where_none_is_wanted_or_none_can_be(
    first_fault: Run, cache: Path
) -> None:
    """--no-cache leaves nothing behind; a cache that is a file is done without."""
    as_json(first_fault("--work", "5", "--no-cache", "--json"))
    assert not cache.exists()
    cache.write_text("no directory", encoding="utf-8")
    assert as_json(first_fault("--work", "5", "--json"))["prepared"]["from_cache"] is False


def test_nothing_but_the_cache_directory_is_written(first_fault: Run, cache: Path) -> None:
    """A table is written beside and renamed: no half of it stays."""
    as_json(first_fault("--work", "5", "--json"))
    names = [path.name for path in (cache / "openings").iterdir()]
    assert [name for name in names if not re.fullmatch(r"[0-9a-f]{64}\.table", name)] == []
    assert [path.name for path in cache.iterdir()] == ["openings"]
