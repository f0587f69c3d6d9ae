"""Random machines with faults, symptoms and checks, the same for the same sizes and seed.

The machine comes from ``generate``. Its parts belong to a few functional groups, as a picture, a sound or a charging
group. A fault sits in a part or in a plug of a group and shows the symptom of its group as a rule, another one
now and then. Checks: from outside (the group works or not), with a meter on an opened part (this part
or not), and between (half a group). All figures are drawn, none is measured; that is what a person would
write, whose own figures are no better than that.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

from benchmarks.generate import generate
from lastscrew.device.diagnosis import Check, Fault, Likelihood, Mend, Symptom
from lastscrew.device.model import Device

CABLES = ("plug", "ribbon", "coax")


@dataclass(frozen=True, slots=True)
class Sizes:
    """How much of everything.

    Attributes:
        faults: Faults.
        actions: Checks and mends together, about half of each.
        modules: Modules of the machine (18: about 50 joints).
        groups: Functional groups.
    """

    faults: int = 25
    actions: int = 25
    modules: int = 18
    groups: int = 5


def generate_faults(sizes: Sizes, seed: int) -> Device:
    """One random machine with faults."""
    rng = Random(f"{sizes}-{seed}")
    device = generate(sizes.modules, seed)
    mends = _mends(device, sizes.actions - sizes.actions // 2, rng)
    group_of = [index % sizes.groups for index in range(len(mends))]
    rng.shuffle(group_of)
    checks = _checks(device, mends, group_of, sizes.actions // 2, rng)
    symptoms = {
        f"s{group}": Symptom(f"s{group}", f"Group {group} fails", leak=Likelihood(0.01))
        for group in range(sizes.groups)
    }
    faults = {}
    for number in range(sizes.faults):
        index = number if number < len(mends) else rng.randrange(len(mends))
        fault = _fault(number, mends[index], rng)
        shown = _shown(group_of[index], sizes.groups, rng)
        chances = {
            check.id: {"": Likelihood(rng.choice((0.8, 0.92, 0.98)))}
            for check, covers in checks
            if index in covers
        }
        faults[fault.id] = replace(fault, symptoms=shown, checks=chances)
    final = Check(
        "works", "Works", "Try everything.", rng.randrange(60, 181) * 1000, final=True, power="on"
    )
    return replace(
        device,
        symptoms=symptoms,
        checks={check.id: check for check, _ in checks} | {"works": final},
        faults=faults,
    )


def complaint(device: Device, rng: Random) -> tuple[str, tuple[str, ...]]:
    """A fault drawn by its frequency, and what its machine shows; never nothing at all."""
    faults = list(device.faults.values())
    fault = rng.choices(faults, [f.prior for f in faults])[0]
    while True:
        shown = tuple(
            symptom
            for symptom in sorted(device.symptoms)
            if rng.random() < (fault.symptoms[symptom].value if symptom in fault.symptoms else 0.01)
        )
        if shown:
            return fault.id, shown


def _mends(device: Device, count: int, rng: Random) -> list[Mend]:
    parts = [part.id for part in device.parts.values() if not part.fixed]
    cables = [
        joint.id for joint in device.joints.values() if joint.kind in CABLES and not joint.isolates
    ]
    seated = min(len(cables), count // 3)
    exchanged = min(len(parts), count - seated)
    found = [
        Mend("exchange", part=part, success=Likelihood(0.98), ms=rng.randrange(15, 60) * 1000)
        for part in rng.sample(parts, exchanged)
    ]
    return found + [
        Mend("reseat", joint=joint, success=Likelihood(rng.choice((0.8, 0.9))), ms=5_000)
        for joint in rng.sample(cables, seated)
    ]


def _checks(
    device: Device, mends: list[Mend], group_of: list[int], count: int, rng: Random
) -> list[tuple[Check, frozenset[int]]]:
    """Checks, each with the mends whose faults it finds."""
    found: list[tuple[Check, frozenset[int]]] = []
    for number in range(count):
        name = f"c{number}"
        ms = rng.randrange(10, 121) * 1000
        group = rng.choice(group_of)
        members = [i for i, of in enumerate(group_of) if of == group]
        kind = rng.random()
        if kind < 0.35:
            check = Check(name, f"Group {group} from outside", "Try it.", ms, power="on")
            covers = frozenset(members)
        elif kind < 0.6:
            check = Check(name, f"Half of group {group}", "Try it.", ms, power="on")
            covers = frozenset(rng.sample(members, max(1, len(members) // 2)))
        else:
            index = rng.randrange(len(mends))
            mend = mends[index]
            joints = [
                joint.id
                for joint in device.joints.values()
                if mend.part in joint.joins and joint.kind in CABLES
            ]
            opened = (mend.joint,) if mend.joint else tuple(joints[:1]) or ("cover_clips",)
            check = Check(
                name, f"Measure {mend.part or mend.joint}", "Measure.", ms, open=opened, power="off"
            )
            covers = frozenset((index,))
        found.append(
            (replace(check, leak={"bad": Likelihood(rng.choice((0.01, 0.02, 0.05)))}), covers)
        )
    return found


def _fault(number: int, mend: Mend, rng: Random) -> Fault:
    return Fault(
        f"f{number}",
        f"Fault {number}",
        part=mend.part,
        joint=mend.joint,
        prior=float(round(10 * rng.paretovariate(1.2))),
        prior_given=True,
        mends=(mend,),
    )


def _shown(group: int, groups: int, rng: Random) -> dict[str, Likelihood]:
    shown = {f"s{group}": Likelihood(rng.choice((0.65, 0.8, 0.92, 0.98)))}
    if rng.random() < 0.4:
        shown.setdefault(f"s{rng.randrange(groups)}", Likelihood(rng.choice((0.06, 0.15, 0.3))))
    return shown
