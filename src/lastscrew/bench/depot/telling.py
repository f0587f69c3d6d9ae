"""What a person tells about a unit on its page: where it lies, what was wrong about it, a hazard, custody."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext as _

from lastscrew.bench.depot import events as d
from lastscrew.bench.depot.pass_codes import tells_pass_code
from lastscrew.bench.depot.reading_forms import (
    end_of_day,
    happening_of,
    one_line,
    some_lines,
)
from lastscrew.bench.depot.taking_in import accessories_of
from lastscrew.problems import Problem
from lastscrew.run.events import Happening

KINDS: Mapping[str, type[Happening]] = {
    "placed": d.Placed,
    "described": d.Described,
    "hazard_met": d.HazardMet,
    "hazard_cleared": d.HazardCleared,
    "custody": d.Custody,
}
LONG_TEXTS = frozenset({"condition", "reason"})


def read_tale(name: str, form: Mapping[str, str]) -> tuple[Happening | None, list[Problem]]:
    """Read what a form tells.

    Args:
        name: One of :data:`KINDS`.
        form: Text by field.

    Returns:
        What happened, or None with everything that is wrong.
    """
    problems = [
        Problem(
            _("This text looks as if it told a pass code."),
            _("Take it out. If it is none, say so and send it again."),
            field,
            code="pass_code",
        )
        for field, text in form.items()
        if form.get("no_pass_code") != "1" and tells_pass_code(text)
    ]
    values: dict[str, object] = {
        field: some_lines(text) if field in LONG_TEXTS else one_line(text)
        for field, text in form.items()
    }
    if name == "hazard_met":
        problems += _power(form)
        values["power_off"] = form.get("power_off") == "1"
    if name == "described":
        problems += _describe(values, form)
    what, wrong = happening_of(KINDS[name], values)
    problems += wrong
    if what is not None and name == "described" and what == d.Described():
        problems.append(Problem(_("Nothing was changed."), code="nothing"))
    return (None if problems else what), problems


def _power(form: Mapping[str, str]) -> list[Problem]:
    if form.get("power_off") == "1":
        return []
    return [
        Problem(
            _("It does not say that the machine is off and on no charger."),
            _("Take the charger away and leave it off. Then tick the box."),
            "power_off",
            code="power",
        )
    ]


def _describe(values: dict[str, object], form: Mapping[str, str]) -> list[Problem]:
    """Fields of a correction that are no plain text."""
    if form.get("accessories", "").strip():
        values["accessories"] = accessories_of(form["accessories"])
    values["liquid"] = True if form.get("liquid") == "1" else None
    if values.get("pack") in ("swollen", "damaged") or values["liquid"]:
        return [
            Problem(
                _("A swollen or damaged pack, or liquid, stops the normal way."),
                _("Tell it below, with who was told and where the machine was put."),
                "pack",
                code="hazard",
            )
        ]
    due = one_line(form.get("due", ""))
    if due:
        try:
            values["due"] = end_of_day(due)
        except ValueError:
            text = _("“%(text)s” is no date.") % {"text": due[:40]}
            return [Problem(text, _("Write it as 2026-03-02."), "due", code="no_date")]
    return []


def follows_from(what: Happening) -> d.Described | None:
    """What a hazard says about the machine itself, so that its page does not go on calling the pack sound."""
    if not isinstance(what, d.HazardMet):
        return None
    if what.what == "liquid":
        return d.Described(liquid=True)
    return d.Described(pack={"swollen_pack": "swollen"}.get(what.what, "damaged"))


def changed_only(form: Mapping[str, str], now: Mapping[str, str]) -> dict[str, str]:
    """A correction without what stays as it was: forms send everything that they show."""
    return {
        field: value
        for field, value in form.items()
        if some_lines(value) != some_lines(now.get(field, ""))
    }
