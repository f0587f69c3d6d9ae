"""What owners say: matched to symptoms, for a person to confirm; and what tells that more than one thing broke."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

from lastscrew.device.diagnosis import NO_EVENT, Symptom
from lastscrew.device.model import Device

LIQUID_WORDS: Final = (
    "liquid", "spill", "spilled", "spilt", "wet", "water", "coffee", "tea", "juice", "beer", "wine", "milk",
    "soup", "rain", "flood", "flooded", "soaked", "washed", "damp",
)  # fmt: skip
DROP_WORDS: Final = (
    "drop", "dropped", "fell", "fall", "fallen", "falls", "crashed down", "knocked off", "knocked over",
    "sat on", "stepped on", "run over", "hit",
)  # fmt: skip
"""Words for what happened; common practice, no source."""
_SMALL: Final = frozenset(
    word
    for line in (
        "a an and any at be been but by does for from has have i in is it its my of off on or out",
        "so that the then there this to was when will with",
    )
    for word in line.split()
)
_DENIED: Final = re.compile(r"\b(?:no|without|not enough|too little|out of) [a-z]+")
_ENDINGS: Final = ("ing", "ed", "es", "s", "ly")


@dataclass(frozen=True, slots=True)
class Match:
    """A symptom that a complaint may mean.

    Attributes:
        symptom: Its id.
        score: Share of the words of its best phrase that the complaint has, 0 to 1.
        phrase: That phrase.
    """

    symptom: str
    score: float
    phrase: str


def symptoms_meant(device: Device, complaint: str, least: float = 0.6) -> tuple[Match, ...]:
    """Symptoms that the words of an owner may mean, likeliest first; a person confirms them.

    Args:
        device: The device.
        complaint: What the owner said.
        least: Matches below this share are left out.
    """
    said = _stems(complaint)
    found: list[Match] = []
    for symptom in device.symptoms.values():
        best = max(
            (
                Match(symptom.id, _share(phrase, said), phrase)
                for phrase in (*symptom.words, symptom.name)
            ),
            key=lambda match: match.score,
        )
        if best.score >= least:
            found.append(best)
    return tuple(sorted(found, key=lambda match: (-match.score, -len(match.phrase), match.symptom)))


def tells_of_event(device: Device, shown: Collection[str], complaint: str = "") -> str | None:
    """``liquid`` or ``drop`` where symptoms or the complaint tell of one: then two faults at once are likely.

    Words of a symptom that says ``event: none`` are everyday ones for this device, and tell of nothing; nor does what
    is denied ("no water comes").
    """
    by_symptom = symptom_of_event(device, shown)
    return _event_in(complaint, _everyday(device)) if by_symptom is None else by_symptom[1]


def symptom_of_event(device: Device, shown: Collection[str]) -> tuple[Symptom, str] | None:
    """The first symptom that tells of liquid or a drop, and of which; None where none does."""
    everyday = _everyday(device)
    for symptom_id in sorted(shown):
        symptom = device.symptoms.get(symptom_id)
        if symptom is None or symptom.event == NO_EVENT:
            continue
        event = symptom.event or _event_in(_phrases(symptom), everyday)
        if event is not None:
            return symptom, event
    return None


def _everyday(device: Device) -> list[str]:
    """Words that tell of nothing in this device."""
    symptoms = device.symptoms.values()
    return _words(" ".join(_phrases(s) for s in symptoms if s.event == NO_EVENT))


def _phrases(symptom: Symptom) -> str:
    return " . ".join((symptom.id.replace("_", " "), symptom.name, *symptom.words))


def _words(text: str) -> list[str]:
    return re.findall(r"[a-z]+", text.lower())


def _event_in(text: str, everyday: Collection[str] = ()) -> str | None:
    told = _DENIED.sub(" ", text.lower())
    plain = " " + " ".join(word for word in _words(told) if word not in everyday) + " "
    if any(f" {word} " in plain for word in LIQUID_WORDS):
        return "liquid"
    return "drop" if any(f" {word} " in plain for word in DROP_WORDS) else None


def _share(phrase: str, said: Collection[str]) -> float:
    words = _stems(phrase)
    if not words:
        return 0.0
    return sum(word in said for word in words) / len(words)


def _stems(text: str) -> frozenset[str]:
    """Words without small ones and endings; a denial is kept with its word (``not_charg``)."""
    stems: set[str] = set()
    denied = False
    for word in re.findall(
        r"[a-z]+(?:'t)?", text.lower().replace("\N{RIGHT SINGLE QUOTATION MARK}", "'")
    ):
        if word in {"no", "not", "never", "without", "nothing"} or word.endswith("n't"):
            denied = True
            continue
        if word in _SMALL:
            continue
        stems.add(("not_" if denied else "") + _stem(word))
        denied = False
    return frozenset(stems)


def _stem(word: str) -> str:
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            return word.removesuffix(ending)
    return word
