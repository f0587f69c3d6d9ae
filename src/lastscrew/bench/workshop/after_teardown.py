"""What a device file needs beyond the joints that were opened: what has to work again, and what goes in new.

A teardown shows how a machine comes apart, not what its parts do. So whoever took it apart is asked once, part by
part, with a proposal by the name of the part; and for each joint that can't be used again, what its new piece is.
The proposals, their words and seconds are our own (common practice, no source); whoever answers looks at them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

MOST_WORDS: Final = 200
SURE_OF_A_FASTENER: Final = frozenset({"screw", "nut"})
"""Kinds whose new piece is a fastener of the file, where it was measured."""


@dataclass(frozen=True, slots=True)
class Ability:
    """Something that a part may do for the machine.

    Attributes:
        key: Id of the function in the device file; the same in every language.
        name: What it is called.
        check: How it is tried.
        seconds: How long that takes.
        of: Names of parts that do it, in English and German.
    """

    key: str
    name: str | Promise
    check: str | Promise
    seconds: int
    of: re.Pattern[str]


def _parts(*words: str) -> re.Pattern[str]:
    return re.compile("|".join(words), re.IGNORECASE)


ABILITIES: Final[tuple[Ability, ...]] = (
    Ability(
        "starts",
        gettext_lazy("Starts"),
        gettext_lazy("Switch it on. Wait until it is ready."),
        60,
        _parts(
            r"\b(main|logic|mother|system|control) ?board\b",
            r"^board$",
            r"\bcontrol(ler)?$",
            "platine",
            "steuerung",
        ),
    ),
    Ability(
        "runs_on_pack",
        gettext_lazy("Pack and charging"),
        gettext_lazy("Let it run without the mains. Plug in the charger: it charges."),
        60,
        _parts(r"\b(battery|pack|accumulator)\b", "akku", "batterie"),
    ),
    Ability(
        "power_in",
        gettext_lazy("Power inlet"),
        gettext_lazy("Plug the power in and move the plug: it stays on."),
        20,
        _parts(
            r"\b(power|charging|dc) (jack|inlet|socket|port|cord|supply)\b",
            "netzteil",
            "netzkabel",
            "ladebuchse",
        ),
    ),
    Ability(
        "cooling",
        gettext_lazy("Cooling"),
        gettext_lazy(
            "Let it work hard for five minutes. Listen to the fan. Read the highest temperature."
        ),
        320,
        _parts(r"\bfans?\b", r"\bheat ?sink\b", r"\bcooler\b", r"\bblower\b", "lüfter", "kühl"),
    ),
    Ability(
        "picture",
        gettext_lazy("Screen"),
        gettext_lazy("Show white, black, red, green and blue. Look for lines and spots."),
        40,
        _parts(r"\b(screen|display|lcd)\b", "bildschirm", "anzeige"),
    ),
    Ability(
        "touch",
        gettext_lazy("Touch"),
        gettext_lazy("Draw a line along every edge and across the middle."),
        30,
        _parts(r"\b(touch ?screen|digiti[sz]er)\b"),
    ),
    Ability(
        "typing",
        gettext_lazy("Keys"),
        gettext_lazy("Press every key once."),
        75,
        _parts(r"\b(keyboard|keypad|keys)\b", "tastatur", "tastenfeld"),
    ),
    Ability(
        "pointing",
        gettext_lazy("Pointing pad"),
        gettext_lazy("Move, press left and right, scroll."),
        20,
        _parts(r"\b(touch|track|pointing) ?pad\b", "tastfeld"),
    ),
    Ability(
        "buttons",
        gettext_lazy("Buttons"),
        gettext_lazy("Press every button once: it clicks and does what it says."),
        20,
        _parts(r"\b(button|switch|trigger|knob)s?\b", "taster", "schalter", "knopf"),
    ),
    Ability(
        "sound",
        gettext_lazy("Sound"),
        gettext_lazy("Play a low and a high tone on each side."),
        30,
        _parts(r"\b(loud)?speakers?\b", r"\bbuzzer\b", "lautsprecher"),
    ),
    Ability(
        "recording",
        gettext_lazy("Microphone"),
        gettext_lazy("Speak and listen to the recording."),
        30,
        _parts(r"\bmic(rophone)?s?\b", "mikrofon"),
    ),
    Ability(
        "camera",
        gettext_lazy("Camera"),
        gettext_lazy("Show the camera's picture."),
        20,
        _parts(r"\bcamera\b", "kamera"),
    ),
    Ability(
        "wireless",
        gettext_lazy("Wireless"),
        gettext_lazy("Connect. Read the strength of the signal at three metres."),
        60,
        _parts(r"\b(wireless|antenna|radio|wlan|wi-?fi|modem)\b", "antenne", "funk"),
    ),
    Ability(
        "storage",
        gettext_lazy("Storage"),
        gettext_lazy("It is found. Write a file and read it back."),
        60,
        _parts(r"\b(drive|disk|ssd|storage)\b", "festplatte", "laufwerk"),
    ),
    Ability(
        "memory",
        gettext_lazy("Memory"),
        gettext_lazy("All of it is found. Run the short memory test."),
        120,
        _parts(r"\bmemory\b", "arbeitsspeicher"),
    ),
    Ability(
        "sockets",
        gettext_lazy("Sockets"),
        gettext_lazy("Plug something into every socket: it is found."),
        60,
        _parts(r"\b(port|socket|connector)s?\b", r"\b(usb|audio|card reader)\b", "buchse"),
    ),
    Ability(
        "moves",
        gettext_lazy("Moves"),
        gettext_lazy("Open and close it five times: nothing rubs, it stays where it is left."),
        20,
        _parts(r"\b(hinge|door|flap)s?\b", "scharnier", "klappe", "tür"),
    ),
    Ability(
        "drives",
        gettext_lazy("Motor"),
        gettext_lazy("Let it run at every speed. Listen, smell, feel the heat."),
        60,
        _parts(r"\b(motor|pump|gear ?box|turbine)s?\b", r"motor\b", "pumpe", "getriebe"),
    ),
    Ability(
        "lights",
        gettext_lazy("Lights"),
        gettext_lazy("Every light comes on."),
        20,
        _parts(r"\b(led|leds|lamp|light|lights)\b", "lampe", "leuchte"),
    ),
    Ability(
        "measures",
        gettext_lazy("Sensor"),
        gettext_lazy("Compare what it shows with a known value."),
        60,
        _parts(r"\b(sensor|gauge|probe|thermostat)s?\b", "fühler", r"\wmesser\b"),
    ),
)

ONLY_HOLDS: Final = re.compile(
    r"\b(screws?|bracket|clamp|holder|cover|cap|foam|label|tape|strap|frame|shield|foot|feet|seal|gasket)$"
    r"|(halter|deckel|abdeckung|bügel|rahmen|fuß|füße|dichtung|band)$",
    re.IGNORECASE,
)
"""Ends of names of parts that hold or cover something and do nothing by themselves."""
COMPOUND_UNDER: Final = re.compile(
    r"\bheat ?(sink|pipe|spreader)|\bcooler\b|kühlkörper", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Works:
    """Something that has to work again when a part was disturbed.

    Attributes:
        part: Name of the part.
        name: What it is called.
        check: How it is tried.
        key: Id that the function is to have; empty: made from the name.
        seconds: How long trying takes, 0 for not said.
    """

    part: str
    name: str
    check: str
    key: str = ""
    seconds: int = 0


@dataclass(frozen=True, slots=True)
class New:
    """What goes in new when a joint is closed.

    Attributes:
        step: Key of the step that opened it.
        name: What it is called.
    """

    step: str
    name: str


@dataclass(frozen=True, slots=True)
class Answers:
    """What was said beyond the joints; nothing, where nobody was asked."""

    works: tuple[Works, ...] = ()
    new: tuple[New, ...] = ()
    said: bool = False


NOTHING_SAID: Final = Answers()


@dataclass(frozen=True, slots=True)
class PartAsked:
    """A part, and what it may do: each with a tick or without."""

    name: str
    field: str
    choices: tuple[tuple[Ability, bool], ...]
    other: str = ""


@dataclass(frozen=True, slots=True)
class JointAsked:
    """A joint that needs something new; ``name`` is the proposal, or what was said, "" for nothing."""

    step: str
    number: int
    joins: str
    field: str
    name: str


def abilities_of(part: str) -> tuple[Ability, ...]:
    """What a part of this name may do for the machine."""
    if ONLY_HOLDS.search(part.strip()):
        return ()
    return tuple(ability for ability in ABILITIES if ability.of.search(part))


def asked_of_parts(parts: Iterable[str], answers: Answers) -> tuple[PartAsked, ...]:
    """Each part with what it may do; before anybody has said anything, what its name says is ticked."""
    asked = []
    for part in parts:
        said = [works for works in answers.works if works.part == part]
        keys = {works.key for works in said if works.key}
        mine = abilities_of(part)
        choices = tuple(
            (ability, ability.key in keys if answers.said else True) for ability in mine
        )
        other = next((works.name for works in said if not works.key), "")
        asked.append(PartAsked(part, f"works:{part}", choices, other))
    return tuple(asked)


def asked_of_joints(steps: Sequence[Any], answers: Answers) -> tuple[JointAsked, ...]:
    """Each joint that can't be used again and has no fastener of its own, and the screws of a heat sink.

    Args:
        steps: The steps of a teardown.
        answers: What was said before.
    """
    said = {new.step: new.name for new in answers.new}
    asked = []
    for number, step in enumerate(steps, 1):
        proposed = _proposed(step)
        if not proposed:
            continue
        name = said.get(step.key, "") if answers.said else proposed
        asked.append(JointAsked(step.key, number, " – ".join(step.joins), f"new:{step.key}", name))
    return tuple(asked)


def _proposed(step: Any) -> str:  # noqa: ANN401 (a step of a teardown; that module imports this one)
    first = step.joins[0] if step.joins else ""
    if step.single_use and not (step.kind in SURE_OF_A_FASTENER and step.size):
        words = {"adhesive": _("adhesive for %(part)s"), "tape": _("tape for %(part)s")}
        return words.get(step.kind, _("new pieces for %(part)s")) % {"part": first}
    if step.kind in SURE_OF_A_FASTENER and COMPOUND_UNDER.search(first):
        return _("thermal compound")
    return ""


def answers_from(
    values: Mapping[str, Sequence[str]], parts: Sequence[str], steps: Sequence[Any]
) -> Answers:
    """The answers of the form that :func:`asked_of_parts` and :func:`asked_of_joints` made.

    Args:
        values: Fields, each with its values.
        parts: Names of the parts that were asked about.
        steps: Steps that were asked about.
    """
    return Answers(
        tuple(_works(values, parts)),
        tuple(
            New(joint.step, name)
            for joint in asked_of_joints(steps, Answers())
            if (name := _one(values, joint.field))
        ),
        said=True,
    )


def _works(values: Mapping[str, Sequence[str]], parts: Sequence[str]) -> Iterator[Works]:
    for asked in asked_of_parts(parts, Answers()):
        ticked = set(values.get(asked.field, ()))
        for ability, _ticked in asked.choices:
            if ability.key in ticked:
                name, check = str(ability.name), str(ability.check)
                yield Works(asked.name, name, check, ability.key, ability.seconds)
        if other := _one(values, f"{asked.field}:other"):
            yield Works(asked.name, other, other)


def _one(values: Mapping[str, Sequence[str]], name: str) -> str:
    found = values.get(name) or [""]
    return " ".join(found[-1].split())[:MOST_WORDS]


def answers_as_json(answers: Answers) -> dict[str, Any]:
    """As the database keeps them; nothing where nobody was asked."""
    if not answers.said:
        return {}
    return {
        "works": [[w.part, w.name, w.check, w.key, w.seconds] for w in answers.works],
        "new": [[n.step, n.name] for n in answers.new],
    }


def answers_from_json(row: Mapping[str, Any]) -> Answers:
    """As they were kept."""
    if "works" not in row:
        return Answers()
    works = tuple(Works(str(p), str(n), str(c), str(k), int(s)) for p, n, c, k, s in row["works"])
    new = tuple(New(str(step), str(name)) for step, name in row.get("new", ()))
    return Answers(works, new, said=True)
