"""One unit that comes in: what the form says, as an event, the owner's own data apart, and what stops the way.

Pure: form fields in, values out. What identifies the owner goes into :class:`OwnerWords` and never into the
event.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from lastscrew.bench.depot.events import HazardMet, TakenIn
from lastscrew.bench.depot.folded import folded, folded_key
from lastscrew.bench.depot.pass_codes import tells_pass_code
from lastscrew.bench.depot.reading_forms import end_of_day, happening_of, one_line, some_lines
from lastscrew.problems import Problem

PACK_WORDS = {
    "unseen": gettext_lazy("not seen yet"),
    "sound": gettext_lazy("sound"),
    "swollen": gettext_lazy("swollen"),
    "damaged": gettext_lazy("damaged"),
    "none": gettext_lazy("has none"),
}
TEST_WORDS = {
    "guest_account": gettext_lazy("a guest account"),
    "start_screen": gettext_lazy("as far as the start screen"),
    "own_medium": gettext_lazy("a medium of ours"),
    "owner_present": gettext_lazy("with the owner beside it"),
    "none": gettext_lazy("no way was found"),
}
AGREED_WORDS = {
    "owner": gettext_lazy("the owner, by word of mouth"),
    "owner_in_writing": gettext_lazy("the owner, in writing"),
    "nobody": gettext_lazy("nobody yet"),
}
CHECK_WORDS = {
    "works": gettext_lazy("works"),
    "fails": gettext_lazy("doesn’t"),
    "not_tried": gettext_lazy("can’t be tried"),
}
HAZARD_WORDS = {
    "swollen_pack": gettext_lazy("swollen pack"),
    "damaged_pack": gettext_lazy("damaged pack"),
    "liquid": gettext_lazy("liquid"),
}

MOST_ACCESSORIES = 100
FREE_TEXTS = ("complaint", "condition", "seals", "may_be_lost", "accessories", "device_words")
OWNER_LIMITS = {"name": 200, "contact": 300, "complaint": 4_000}


@dataclass(frozen=True, slots=True)
class OwnerWords:
    """What identifies the owner, and their words: kept outside the events, and erased in time."""

    name: str = ""
    contact: str = ""
    complaint: str = ""

    def __bool__(self) -> bool:
        """True when there is anything to keep."""
        return bool(self.name or self.contact or self.complaint)


@dataclass(frozen=True, slots=True)
class Intake:
    """What a form or a row says.

    Attributes:
        taken: The event; None while something is wrong. Its number is given when it is stored.
        owner: The owner's data.
        place: Where it lies.
        hazards: What stops the normal way.
        problems: Everything that is wrong.
    """

    taken: TakenIn | None
    owner: OwnerWords = OwnerWords()
    place: str = ""
    hazards: tuple[HazardMet, ...] = ()
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class Known:
    """What is known when something comes in.

    Attributes:
        devices: Device id to the ids of its functions.
        names: Folded name of a device to its id.
        here: (device, folded serial) of what is here now, to the unit's number; the device may be empty.
    """

    devices: Mapping[str, Collection[str]] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    here: Mapping[tuple[str, str], int] = field(default_factory=dict)


def hazard_kinds(pack: str, *, liquid: bool) -> tuple[str, ...]:
    """Which hazards stop the normal way, from the state of the pack and liquid."""
    kinds = {"swollen": ("swollen_pack",), "damaged": ("damaged_pack",)}.get(pack, ())
    return (*kinds, "liquid") if liquid else kinds


def shown_number(number: int) -> str:
    """The number as it stands on the label: ``U000123``."""
    return f"U{number:06d}"


def read_intake(form: Mapping[str, str], known: Known, line: int | None = None) -> Intake:
    """Read a form or a row.

    Args:
        form: Text by field. ``check_FUNCTION`` holds the outcome of a check before opening;
            ``no_pass_code`` says that a person looked at the texts again.
        known: Devices, and what is here.
        line: Row of the table, for messages.
    """
    problems: list[Problem] = []
    values = _values(form, known, problems, line)
    owner = _owner(form, problems, line)
    if form.get("no_pass_code") != "1":
        problems += _pass_codes(form, line)
    taken, wrong = happening_of(TakenIn, {**values, "number": 1}, line)
    problems += wrong
    if taken is None:
        return Intake(None, owner, problems=tuple(problems))
    if not any(problem.path == "device" for problem in problems):
        problems += _no_device(taken, line)
    problems += _missing(taken, line)
    problems += _unknown_checks(taken, known, line)
    problems += _already_here(taken, known, line)
    hazards = _hazards(taken, form, problems, line)
    return Intake(
        None if problems else taken,
        owner,
        one_line(form.get("place", ""))[:200],
        hazards,
        tuple(problems),
    )


def with_number(taken: TakenIn, number: int) -> TakenIn:
    """The same with its number."""
    return replace(taken, number=number)


def _values(
    form: Mapping[str, str], known: Known, problems: list[Problem], line: int | None
) -> dict[str, object]:
    values: dict[str, object] = {
        name: one_line(form.get(name, ""))
        for name in ("serial", "asset_tag", "seals", "device_words", "agreed_by", "way_to_test")
    }
    values |= {name: some_lines(form.get(name, "")) for name in ("condition", "may_be_lost")}
    values["pack"] = one_line(form.get("pack", "")) or "unseen"
    values["liquid"] = form.get("liquid") == "1"
    values["dropped"] = form.get("dropped") == "1"
    values["accessories"] = accessories_of(form.get("accessories", ""))
    values["device"] = _device(form, known, problems, line)
    values["checks"] = {
        name.removeprefix("check_"): value
        for name, value in form.items()
        if name.startswith("check_") and value
    }
    due = one_line(form.get("due", ""))
    if due:
        try:
            values["due"] = end_of_day(due)
        except ValueError:
            problems.append(
                Problem(
                    _("“%(text)s” is no date.") % {"text": due[:40]},
                    _("Write it as 2026-03-02."),
                    "due",
                    line=line,
                    code="no_date",
                )
            )
    return values


def accessories_of(text: str) -> list[str]:
    """What came with it: separated by line ends, semicolons or commas."""
    pieces = some_lines(text).replace(";", "\n").replace(",", "\n").split("\n")
    return [piece for piece in map(one_line, pieces) if piece]


def _device(
    form: Mapping[str, str], known: Known, problems: list[Problem], line: int | None
) -> str:
    asked = one_line(form.get("device", ""))
    if not asked or asked in known.devices:
        return asked
    by_name = known.names.get(folded(asked))
    if by_name is None:
        problems.append(
            Problem(
                _("No device is called “%(name)s”.") % {"name": asked[:80]},
                _("Choose one of the devices, or leave it empty and describe it in words."),
                "device",
                line=line,
                code="unknown_device",
            )
        )
    return by_name or ""


def _owner(form: Mapping[str, str], problems: list[Problem], line: int | None) -> OwnerWords:
    read = {
        "name": one_line(form.get("owner_name", "")),
        "contact": one_line(form.get("owner_contact", "")),
        "complaint": some_lines(form.get("complaint", "")),
    }
    for name, most in OWNER_LIMITS.items():
        if len(read[name]) > most:
            problems.append(
                Problem(
                    _("This text has more than %(most)d characters.") % {"most": most},
                    _("Shorten it."),
                    name if name == "complaint" else f"owner_{name}",
                    line=line,
                    code="too_long",
                )
            )
        if any(ord(char) < 32 and char not in "\n\t" for char in read[name]):
            problems.append(
                Problem(
                    _("This text holds control characters."),
                    _("Type it again."),
                    name if name == "complaint" else f"owner_{name}",
                    line=line,
                    code="unfit",
                )
            )
    return OwnerWords(**read)


def _pass_codes(form: Mapping[str, str], line: int | None) -> list[Problem]:
    return [
        Problem(
            _("This text looks as if it told a pass code."),
            _(
                "Take it out. Choose another way to try the machine: a guest account, the start screen, "
                "a medium of ours. If it is no pass code, say so below and send it again."
            ),
            name,
            line=line,
            code="pass_code",
        )
        for name in FREE_TEXTS
        if tells_pass_code(form.get(name, ""))
    ]


def _no_device(taken: TakenIn, line: int | None) -> list[Problem]:
    if taken.device or taken.device_words:
        return []
    return [
        Problem(
            _("It does not say what machine it is."),
            _("Choose the device, or describe it in words."),
            "device",
            line=line,
            code="no_device",
        )
    ]


def _missing(taken: TakenIn, line: int | None) -> list[Problem]:
    problems = []
    if not (taken.serial or taken.asset_tag):
        problems.append(
            Problem(
                _("Neither a serial number nor an asset tag is given."),
                _("Give one of them; where the plate can’t be read, write “not readable”."),
                "serial",
                line=line,
                code="no_serial",
            )
        )
    if taken.may_be_lost and not taken.agreed_by:
        problems.append(
            Problem(
                _("It says what may be lost, but not who agreed."),
                _("Choose who agreed."),
                "agreed_by",
                line=line,
                code="nobody_agreed",
            )
        )
    return problems


def _unknown_checks(taken: TakenIn, known: Known, line: int | None) -> list[Problem]:
    if not taken.device:
        return []  # told already, or there is no device file: then nothing asks for checks
    functions = known.devices.get(taken.device, ())
    return [
        Problem(
            _("The device has no check called “%(check)s”.") % {"check": name[:40]},
            _("Load the page again: the device file has changed."),
            "checks",
            line=line,
            code="unknown_check",
        )
        for name in taken.checks
        if name not in functions
    ]


def _already_here(taken: TakenIn, known: Known, line: int | None) -> list[Problem]:
    serial = folded_key(taken.serial or "")
    number = known.here.get((taken.device or "", serial)) if is_a_serial(serial) else None
    if number is None:
        return []
    return [
        Problem(
            _("This serial number is here already, as %(unit)s.") % {"unit": shown_number(number)},
            _("Open that unit, or look at the plate again."),
            "serial",
            line=line,
            code="already_here",
        )
    ]


def is_a_serial(text: str) -> bool:
    """False for what people write where there is none to read: it says nothing about which machine it is."""
    return folded(text).strip(" .-–?") not in {
        "", "none", "no", "n/a", "na", "unknown", "not readable", "unreadable", "missing", "nicht lesbar", "ohne",
    }  # fmt: skip


def _hazards(
    taken: TakenIn, form: Mapping[str, str], problems: list[Problem], line: int | None
) -> tuple[HazardMet, ...]:
    """What stops the normal way; says what has to be told then."""
    kinds = hazard_kinds(taken.pack, liquid=taken.liquid)
    if not kinds:
        return ()
    tried = sorted(name for name, outcome in taken.checks.items() if outcome != "not_tried")
    if tried:
        problems.append(
            Problem(
                _("It must not be switched on, so no check can have been done: %(checks)s.")
                % {"checks": ", ".join(tried)},
                _("Set the checks to “can’t be tried”."),
                "checks",
                line=line,
                code="no_power",
            )
        )
    told, place = one_line(form.get("told", "")), one_line(form.get("hazard_place", ""))
    found: list[HazardMet] = []
    problems += _untold(told, place, line)
    for kind in kinds if told and place else ():
        values: dict[str, object] = {"what": kind, "told": told, "place": place}
        hazard, wrong = happening_of(HazardMet, {**values, "power_off": True}, line)
        problems += [] if found else wrong
        found += [hazard] if hazard is not None else []
    if form.get("power_off") != "1":
        problems.append(
            Problem(
                _("It does not say that the machine is off and on no charger."),
                _("Take the charger away and leave it off. Then tick the box."),
                "power_off",
                line=line,
                code="power",
            )
        )
    return tuple(found)


def _untold(told: str, place: str, line: int | None) -> list[Problem]:
    problems = []
    if not told:
        problems.append(
            Problem(
                _("It does not say who was told about the hazard."),
                _("Tell the person in charge, and write down who it was."),
                "told",
                line=line,
                code="nobody_told",
            )
        )
    if not place:
        problems.append(
            Problem(
                _("It does not say where the machine was put."),
                _("Put it where nothing can catch fire, and write down where."),
                "hazard_place",
                line=line,
                code="no_place",
            )
        )
    return problems
