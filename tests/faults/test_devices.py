"""From a device file and what was seen to the proposal, held to the brute force, which reads the file by itself.

What opening costs is the program's (``test_openings`` holds that); numbers, chances, evidence and strategy are not.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from fractions import Fraction
from random import Random
from typing import Any

import pytest

from lastscrew.device.reading import load_device
from lastscrew.faults.evidence import Evidence
from lastscrew.faults.openings import DeviceOpenings
from lastscrew.faults.proposing import Terms, model_for, propose
from tests.faults.oracle import (
    BruteForce,
    Cure,
    Faults,
    Job,
    Known,
    Test,
    outcome_chances,
    pairs_and_singles,
)

MODULES = 3
File = dict[str, Any]


def random_file(rng: Random, checks: int = 2) -> File:
    """A lid with screws, a cell, three modules on ribbons; three faults, a check or two."""
    joints: File = {
        "lid_screws": _joint("screw", ["lid", "base"], rng, count=4, tool="driver"),
        "cell_plug": _joint("plug", ["cell", "m0"], rng, under=["lid"], isolates=True),
        "cell_seat": _joint("seat", ["cell", "base"], rng, under=["lid"]),
    }
    parts: File = {"base": {"name": "Base", "fixed": True}, "lid": {"name": "Lid"}}
    parts["cell"] = {"name": "Cell", "energy": True}
    for m in range(MODULES):
        parts[f"m{m}"] = {"name": f"Module {m}", "price": rng.randrange(5, 80)}
        over = ["lid", *([f"m{m - 1}"] if m and rng.random() < 0.4 else [])]
        joints[f"r{m}"] = _joint("ribbon", [f"m{m}", "base"], rng, under=["lid"])
        joints[f"k{m}"] = _joint("clip", [f"m{m}", "base"], rng, under=over, tool="pick")
    return {
        "format": 1,
        "device": {"name": "Trial"},
        "turn_s": 5,
        "tools": {
            "driver": {"name": "screwdriver", "fits": ["PH1"], "swap_s": 4},
            "pick": {"name": "pick", "swap_s": 2},
        },
        "functions": {"lights": {"name": "Lights", "check": "Try it.", "check_s": 20}},
        "parts": parts,
        "joints": joints,
        "symptoms": {
            "dark": {"name": "Dark", "leak": 0.1},
            "loud": {"name": "Loud", "leak": rng.choice((0.02, 0.2))},
        },
        "checks": _checks(rng, checks),
        "faults": _faults(rng),
    }


def _joint(kind: str, joins: list[str], rng: Random, **more: object) -> File:
    times = {"open_s": rng.randrange(1, 20), "close_s": rng.randrange(1, 20)}
    return {"kind": kind, "joins": joins, **times, **more}


def _checks(rng: Random, count: int) -> File:
    final = {"name": "Works", "check": "Try everything.", "check_s": rng.randrange(10, 90)}
    found: File = {"works": final | {"final": True}}
    outside = {
        "name": "Look",
        "check": "Look at it.",
        "check_s": rng.randrange(2, 30),
        "power": "on",
    }
    module = rng.randrange(MODULES)
    inside = {
        "name": "Measure",
        "check": "Measure.",
        "check_s": rng.randrange(2, 30),
        "open": [f"r{module}"],
    }
    inside["power"] = rng.choice(("on", "off"))
    swap = {"name": "Swap", "swap_test": f"m{module}", "check_s": 30, "power": "on"}
    harm = {
        "name": "Pull",
        "check": "Pull.",
        "check_s": 5,
        "harm": {"chance": 0.1, "price": 40, "seconds": 60},
    }
    kinds = {"outside": outside, "inside": inside, "swap": swap, "harm": harm}
    for name in rng.sample(sorted(kinds), count):
        found[name] = kinds[name]
        if name != "swap" and rng.random() < 0.7:
            found[name]["leak"] = {"bad": rng.choice((0.02, 0.05, 0.2))}
        if name == "outside" and rng.random() < 0.4:
            found[name] |= {
                "outcomes": ["fine", "weak", "dead"],
                "leak": {"weak": 0.1, "dead": 0.02},
            }
    return found


def _faults(rng: Random) -> File:
    found: File = {}
    for number in range(3):
        module = rng.randrange(number + 1)  # plug and part of one module, too
        own = {"part": f"m{module}"} if rng.random() < 0.6 else {"joint": f"r{module}"}
        mends: list[File] = [
            {
                "do": "exchange" if "part" in own else "reseat", **own,
                "name": f"Mend {number}", "seconds": rng.randrange(5, 60), "success": rng.choice((0.8, 0.9, 1)),
            }
        ]  # fmt: skip
        if number and rng.random() < 0.3:
            mends.append(
                {"do": "clean", "name": "Clean all", "seconds": 25, "success": 0.5, "price": 2}
            )
        found[f"f{number}"] = {
            "name": f"Fault {number}", **own, "prior": rng.choice((1, 3, 10)),
            "symptoms": {"dark": rng.choice((0.3, 0.9)), "loud": rng.choice((0.1, 0.6))},
            "checks": {}, "mends": mends,
        }  # fmt: skip
    return found


def with_chances(file: File, rng: Random) -> File:
    """What each fault makes of the checks."""
    for name, check in file["checks"].items():
        if name in ("works", "swap"):
            continue
        for fault in file["faults"].values():
            if rng.random() < 0.6:
                bad = rng.choice((0.5, 0.9, 0.95))
                if "outcomes" in check:
                    fault["checks"][name] = {"weak": 0.3, "dead": 0.6}
                else:
                    fault["checks"][name] = bad
    return file


# --- the file as the brute force reads it ----------------------------------------------------------------


@dataclass
class Reading:
    """A device file as numbers of a job.

    Attributes:
        file: The file.
        rate: Price of an hour; None: seconds count alone.
        second: Share of jobs with two faults.
    """

    file: File
    rate: float | None = None
    second: Fraction = Fraction(0)
    faults: list[str] = field(default_factory=list)
    checks: list[str] = field(default_factory=list)
    mends: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.faults = sorted(self.file["faults"])
        self.checks = sorted(name for name in self.file["checks"] if name != "works")
        named = {mend["name"] for fault in self.file["faults"].values() for mend in fault["mends"]}
        self.mends = sorted(name.lower().replace(" ", "_") for name in named)

    def cost(self, seconds: float, price: float) -> float:
        """Seconds, or money."""
        return seconds if self.rate is None else seconds / 3600 * self.rate + price

    def outcomes(self, check: str) -> list[str]:
        """Outcomes of a check, the good one first."""
        return list(self.file["checks"][check].get("outcomes", ["good", "bad"]))

    def test(self, name: str) -> Test:
        """A check in numbers. The leak is 0.01 where none is given, a swap test mistakes one in fifty."""
        check, outcomes = self.file["checks"][name], self.outcomes(name)
        leak = check.get("leak", dict.fromkeys(outcomes[1:], 0.01))
        harm = check.get("harm", {"chance": 0, "price": 0, "seconds": 0})
        given = {}
        for number, fault in enumerate(self.faults):
            said = self.file["faults"][fault]["checks"].get(name)
            if "swap_test" in check:
                own = self.file["faults"][fault]
                at_fault = (
                    own.get("part", own.get("joint", "").replace("r", "m")) == check["swap_test"]
                )
                said = 0.02 if at_fault else 0.98
            if said is not None:
                given[number] = _row(said if isinstance(said, dict) else {"bad": said}, outcomes)
        seconds = check["check_s"] + harm["chance"] * harm["seconds"]
        return Test(self.cost(seconds, harm["chance"] * harm["price"]), _row(leak, outcomes), given)

    def cure(self, mend_id: str) -> Cure:
        """A mend in numbers; an exchanged part costs its price, and is plugged in anew."""
        success, cost, apart, anew = {}, 0.0, set(), False
        for number, fault in enumerate(self.faults):
            for mend in self.file["faults"][fault]["mends"]:
                if mend["name"].lower().replace(" ", "_") == mend_id:
                    success[number] = Fraction(str(mend["success"]))
                    of_part = self.file["parts"].get(mend.get("part"), {}).get("price", 0)
                    price = mend.get("price", of_part if mend["do"] == "exchange" else 0)
                    cost = self.cost(mend["seconds"], price)
                    whose = mend if {"part", "joint"} & mend.keys() else self.file["faults"][fault]
                    if "joint" in whose:
                        apart.add(whose["joint"])
                    elif mend["do"] == "exchange":
                        apart.add(whose["part"].replace("m", "r"))
                        anew = True
        named = set(success)
        for number, fault in enumerate(self.faults):
            for mend in self.file["faults"][fault]["mends"]:
                if mend["do"] == "reseat" and mend["joint"] in apart and number not in named:
                    success[number] = Fraction(1) if anew else Fraction(str(mend["success"]))
        return Cure(cost, success)

    def job(self, openings: DeviceOpenings, start: int, worth: float | None) -> Job:
        """The whole job."""
        shares = [Fraction(self.file["faults"][fault]["prior"]) for fault in self.faults]
        return Job(
            pairs_and_singles(shares, self.second),
            tuple(self.test(name) for name in self.checks),
            tuple(self.cure(name) for name in self.mends),
            self.cost(self.file["checks"]["works"]["check_s"], 0),
            openings,
            start,
            worth,
        )

    def symptom(self, name: str) -> Test:
        """A symptom is a check that costs nothing."""
        leak = _row({"bad": self.file["symptoms"][name]["leak"]}, ["good", "bad"])
        given = {
            n: _row({"bad": self.file["faults"][f]["symptoms"][name]}, ["good", "bad"])
            for n, f in enumerate(self.faults)
        }
        return Test(0.0, leak, given)


def _row(said: dict[str, float], outcomes: list[str]) -> tuple[Fraction, ...]:
    rest = [Fraction(str(said.get(outcome, 0))) for outcome in outcomes[1:]]
    return (1 - sum(rest, Fraction(0)), *rest)


def after_evidence(reading: Reading, job: Job, evidence: Evidence) -> tuple[BruteForce, Known, int]:
    """The brute force with what is known, and the mends tried, after what was seen."""
    prior: dict[Faults, Fraction] = {}
    seen = [(name, 1) for name in evidence.shows] + [(name, 0) for name in evidence.lacks]
    for faults, share in job.prior.items():
        prior[faults] = share
        for name, shown in seen:
            prior[faults] *= outcome_chances(reading.symptom(name), faults)[shown]
    total = sum(prior.values())
    brute = BruteForce(
        Job(
            {f: p / total for f, p in prior.items()},
            job.tests, job.cures, job.final_cost, job.opening, job.start, job.worth,
        )
    )  # fmt: skip
    known, tried = brute.start, 0
    for name, outcome in evidence.results:
        if name == "works":
            known = brute.after_failing(known)
        elif name in reading.checks:
            number = reading.checks.index(name)
            known = brute.after_outcome(known, number, reading.outcomes(name).index(outcome))
        else:
            number = reading.mends.index(name)
            if not tried >> number & 1:  # one that failed fails again
                known, tried = brute.after_mending(known, number), tried | 1 << number
    return brute, known, tried


def random_evidence(reading: Reading, rng: Random) -> Evidence:
    """A symptom or two, and a few results."""
    shows, lacks = rng.choice(((("dark",), ()), (("dark",), ("loud",)), (("dark", "loud"), ())))
    results: list[tuple[str, str]] = []
    for _ in range(rng.choice((0, 1, 2, 3))):
        kind = rng.random()
        if kind < 0.6:
            check = rng.choice(reading.checks)
            before = [o for c, o in results if c == check]
            outcome = before[-1] if before else rng.choice(reading.outcomes(check))
            results.append((check, outcome))
        elif kind < 0.85:
            results += [(rng.choice(reading.mends), "done"), ("works", "faulty")]
        else:
            results.append(("works", "faulty"))
    return Evidence(shows, lacks, tuple(results))


@pytest.mark.parametrize("seed", range(36))
def test_a_proposal_is_that_of_the_brute_force(seed: int) -> None:
    """Evidence, open joints, prices, worth, two faults: expected cost and the proposed action's cost are the least."""
    rng = Random(f"device-{seed}")
    two = seed % 4 == 3
    file = with_chances(random_file(rng, 1 if two else 2), rng)
    terms = Terms(
        stock=("all",),
        two_faults=two,
        second_fault=0.2 if two else None,
        rate_per_h=rng.choice((None, None, 60.0)),
        worth=rng.choice((None, None, 30.0, 200.0)),
    )
    opened = rng.choice(((), ("lid_screws",), ("lid_screws", "cell_plug", "r1")))
    reading = Reading(file, terms.rate_per_h, Fraction(1, 5) if two else Fraction(0))
    evidence = random_evidence(reading, rng)
    device = load_device(json.dumps(file))
    model = model_for(device, evidence, opened, terms=terms)
    start = model.openings.state(opened)
    job = reading.job(model.openings, start, terms.worth)
    brute, known, tried = after_evidence(reading, job, evidence)
    least = brute.value(known, tried, start)

    advice = propose(device, evidence, opened, terms=terms, work=200_000)
    assert advice.proven
    assert advice.expected_cost == pytest.approx(least, rel=1e-7)
    assert advice.lower_bound == pytest.approx(least, rel=1e-7)
    assert advice.next is not None
    if advice.next.kind == "stop":
        return
    number = [*reading.checks, *reading.mends, "works"].index(advice.next.id)
    assert brute.first_of(known, tried, start, number) == pytest.approx(least, rel=1e-7)
    assert model.works[number].id == advice.next.id
    rival = advice.runner_up
    if rival is not None and rival.kind != "stop":
        other = [*reading.checks, *reading.mends, "works"].index(rival.id)
        assert rival.expected_cost >= brute.first_of(known, tried, start, other) - 1e-6


def test_what_takes_a_plug_apart_seats_it_again() -> None:
    """A loose ribbon is cured by whatever takes it off and puts it on; a lid on the way and a torn ribbon are not."""
    file = random_file(Random("seated"))
    own = {"prior": 1, "symptoms": {"dark": 0.5}}
    file["faults"] = {
        "bad": {"part": "m0", **own},
        "behind": {"part": "m1", **own, "mends": [{"do": "clean", "open": ["r0"], "success": 0.5}]},
        "loose": {"joint": "r0", **own},
        "lid": {"joint": "lid_screws", **own},
        "torn": {
            "joint": "r0",
            **own,
            "mends": [{"do": "adjust", "name": "Mend it", "success": 1}],
        },
        "other": {"part": "m2", **own},
    }
    model = model_for(load_device(json.dumps(file)), Evidence(), ())
    cures = {
        work.id: {model.faults[f].id: chance for f, chance in cured.items()}
        for work, cured in zip(model.mends, model.cures, strict=True)
    }
    assert cures == {
        "exchange_m0": {"bad": 0.98, "loose": 1},
        "clean_m1": {"behind": 0.5, "loose": 0.9},
        "reseat_r0": {"loose": 0.9},
        "reseat_lid_screws": {"lid": 0.9},
        "mend_it": {"torn": 1, "loose": 0.9},
        "exchange_m2": {"other": 0.98},
    }
