"""What happened, one sentence for each event: for the history of a unit and its record."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from lastscrew.bench.depot import events as d
from lastscrew.bench.depot.outcomes import outcome_words
from lastscrew.bench.depot.taking_in import HAZARD_WORDS, shown_number
from lastscrew.bench.language import VOICE
from lastscrew.device.model import Device
from lastscrew.fasteners.pieces import kind_from_key, kind_text
from lastscrew.plan.cautions import said_again
from lastscrew.plan.wording import joint_name, part_name, piece_name, side_name
from lastscrew.proof.checks import is_outside
from lastscrew.run import events as r
from lastscrew.run.events import Happening
from lastscrew.saying import told

OUTCOME_WORDS = {
    "repaired": gettext_lazy("repaired"),
    "no_fault_found": gettext_lazy("no fault found"),
    "returned_unrepaired": gettext_lazy("returned unrepaired"),
    "exchanged": gettext_lazy("exchanged"),
    "kept_for_parts": gettext_lazy("kept for parts"),
    "scrapped": gettext_lazy("scrapped"),
}
CHECK_WORDS = {
    "works": gettext_lazy("works"),
    "fails": gettext_lazy("fails"),
    "not_tried": gettext_lazy("not tried"),
}
OPEN_WORD = gettext_lazy("not tried yet")
WAIVED_WORD = gettext_lazy("let stand")
LEFT_WORDS = {
    "closed": gettext_lazy("closed"),
    "open": gettext_lazy("still open"),
    "renewed": gettext_lazy("came new with an exchanged part"),
    "waived": gettext_lazy("open, let stand"),
}
LINE_WORDS = {
    "to_order": gettext_lazy("to order"),
    "ordered": gettext_lazy("ordered"),
    "received": gettext_lazy("received"),
    "dead_on_arrival": gettext_lazy("dead on arrival"),
    "fitted": gettext_lazy("fitted"),
    "old_kept": gettext_lazy("old one kept"),
    "returned": gettext_lazy("returned"),
    "scrapped": gettext_lazy("scrapped"),
}
CUSTODY_WORDS = {
    "held": gettext_lazy("held here"),
    "moved": gettext_lazy("moved"),
    "returned": gettext_lazy("returned to the owner"),
    "destroyed": gettext_lazy("destroyed"),
}
ACCOUNT_WORDS = {
    "made": gettext_lazy("account made"),
    "role": gettext_lazy("role changed"),
    "password": gettext_lazy("password changed"),
    "shut": gettext_lazy("may not sign in any more"),
    "opened": gettext_lazy("may sign in again"),
    "token_made": gettext_lazy("token made"),
    "token_shut": gettext_lazy("token shut"),
}
RULE_WORDS = {
    "second_check_share": gettext_lazy("Share of jobs that a second person looks at"),
    "erase_after_days": gettext_lazy("Days until the owner’s data are erased"),
    "labour_rate": gettext_lazy("Money an hour"),
}
PACK_LEFT_WORDS = {
    "out": gettext_lazy("is out, its contacts taped"),
    "unplugged": gettext_lazy("is in the machine, unplugged"),
    "connected": gettext_lazy("is in the machine, still connected"),
    "none": gettext_lazy("there is none"),
}
PIECES_WORDS = {
    "thrown_away": gettext_lazy("are thrown away"),
    "with_it": gettext_lazy("stay with the machine"),
}
JUDGED_WORDS = {
    "good": gettext_lazy("is good"),
    "bad": gettext_lazy("is bad"),
    "damaged": gettext_lazy("is damaged"),
    "dead_on_arrival": gettext_lazy("was dead on arrival"),
}
WORN_WORDS = {
    "drive": gettext_lazy("drive"),
    "thread": gettext_lazy("thread"),
    "seat": gettext_lazy("seat"),
}
REASON_WORDS = {
    "in_the_way": gettext_lazy("something is in the way"),
    "too_short": gettext_lazy("the cable is too short"),
    "other": gettext_lazy("it can’t be reached"),
}


class _Names:
    """Names as the device file gives them, or ids where there is no file."""

    def __init__(self, device: Device | None) -> None:
        self.device = device

    def joint(self, key: str | None) -> str:
        if key is None:
            return ""
        return told(joint_name(self.device, key)) if self.device else key.replace("_", " ")

    def part(self, key: str | None) -> str:
        if key is None:
            return ""
        return part_name(self.device, key) if self.device else key.replace("_", " ")

    def piece(self, key: str | None) -> str:
        if key is None:
            return ""
        return told(piece_name(self.device, key)) if self.device else key.replace("_", " ")

    def kind(self, key: str | None) -> str:
        if key is None:
            return _("pieces")
        return told(kind_text(self.device, kind_from_key(key))) if self.device else key

    def function(self, key: str | None) -> str:
        found = self.device.functions.get(key) if self.device and key else None
        return found.name if found else (key or "").replace("_", " ")

    def supply(self, key: str | None) -> str:
        found = self.device.supplies.get(key) if self.device and key else None
        return found.name if found else (key or "").replace("_", " ")

    def act(self, key: str | None) -> str:
        found = self.device.acts.get(key) if self.device and key else None
        return found.text if found else (key or "").replace("_", " ")

    def hold(self, what: r.Confirmed) -> str:
        """What was confirmed, in the language of whoever reads it."""
        if self.device is None or not what.joint or not what.text:
            return what.text or ""
        return told(said_again(self.device, what.joint, what.text))

    def symptom(self, key: str) -> str:
        found = self.device.symptoms.get(key) if self.device else None
        return found.name if found else key.replace("_", " ")

    def check(self, key: str | None) -> str:
        found = self.device.checks.get(key) if self.device and key else None
        return found.name if found else (key or "").replace("_", " ")

    def fault_work(self, key: str) -> str:
        return self.check(key)

    def about(self, what: Any) -> str:  # noqa: ANN401 - happenings that name a joint, a part, a piece
        """The joint, part, function or piece that a happening names."""
        for field, name in (
            ("joint", self.joint), ("part", self.part), ("act", self.act), ("function", self.function),
            ("check", self.check), ("piece", self.kind),
        ):  # fmt: skip
            key = getattr(what, field, None)
            if key:
                return name(key)
        return ""


def _joined(*pieces: str | None, by: str = "; ") -> str:
    return by.join(piece for piece in pieces if piece)


def _started(w: r.Started, n: _Names) -> str:
    wanted = [n.piece(piece) for piece in w.replace]
    reached = [n.joint(joint) for joint in w.reach]
    return _joined(
        _("Work began"),
        _("to exchange: %(pieces)s") % {"pieces": ", ".join(wanted)} if wanted else "",
        _("to reach: %(joints)s") % {"joints": ", ".join(reached)} if reached else "",
        _("open already: %(count)d joints") % {"count": len(w.opened)} if w.opened else "",
    )


def _closed(w: r.Closed, n: _Names) -> str:
    if w.came_closed:
        return _("%(joint)s came closed with the new part") % {"joint": n.joint(w.joint)}
    return _joined(
        _("%(joint)s closed") % {"joint": n.joint(w.joint)},
        _("%(count)d new") % {"count": w.new} if w.new else "",
        _("%(count)d left empty") % {"count": w.left_empty} if w.left_empty else "",
    )


def _exchanged(w: r.Exchanged, n: _Names) -> str:
    return _joined(
        _("%(piece)s exchanged") % {"piece": n.piece(w.part)},
        _("old %(serial)s") % {"serial": w.old_serial} if w.old_serial else "",
        _("new %(serial)s") % {"serial": w.new_serial} if w.new_serial else "",
    )


def _lost(w: r.Lost, n: _Names) -> str:
    where = _("nobody knows where")
    if w.inside is not None:
        where = _("inside the machine") if w.inside else _("outside the machine")
    kind = n.kind(w.piece) if w.piece else n.joint(w.joint)
    return _("Lost %(where)s: %(count)d × %(what)s") % {
        "where": where,
        "count": w.count,
        "what": kind,
    }


def _found(w: r.Found, n: _Names) -> str:
    length = f"{w.length_mm:g} mm" if w.length_mm else ""
    what = _joined(n.joint(w.joint), n.kind(w.piece) if w.piece else "", w.thread, length, by=" ")
    return _joined(
        _("Found: %(count)d × %(what)s") % {"count": w.count, "what": what or _("pieces")}, w.where
    )


def _checked(w: r.Checked, n: _Names) -> str:
    phase = {"before": _("before opening"), "during": _("on the way")}.get(w.phase, "")
    value = f"{VOICE.number(w.value)} {w.unit or ''}".strip() if w.value is not None else ""
    # As the page of the checks has it: a value outside its limits fails, whatever was pressed.
    function = n.device.functions.get(w.function) if n.device else None
    outside = is_outside(function, w)
    outcome = "fails" if outside and w.outcome == "works" else w.outcome
    return _joined(
        f"{n.function(w.function)}: {CHECK_WORDS[outcome]}",
        value,
        _("outside the limits") if outside else "",
        phase,
        w.text,
    )


def _parked(w: r.Parked, _n: _Names) -> str:
    return _joined(
        _("Put aside"),
        w.place,
        _("waits for %(what)s") % {"what": w.waiting_for} if w.waiting_for else "",
    )


def _waived(w: r.Waived, n: _Names) -> str:
    return _("%(person)s lets stand: %(what)s. %(reason)s") % {
        "person": w.person,
        "what": n.about(w) or _("what was noted before"),
        "reason": w.reason,
    }


def _unreachable(w: r.Unreachable, n: _Names) -> str:
    return _joined(
        f"{n.joint(w.joint)}: {REASON_WORDS[w.reason]}", n.part(w.part) if w.part else "", w.text
    )


def _other_kind(w: r.OtherKind, n: _Names) -> str:
    other = n.kind(w.piece) if w.piece else f"{w.thread or ''} {w.length_mm or 0:g} mm".strip()
    return _("%(joint)s: %(count)d are of another kind: %(other)s") % {
        "joint": n.joint(w.joint),
        "count": w.count,
        "other": other,
    }


def _part_line(w: r.PartLine, n: _Names) -> str:
    what = w.order_code or n.piece(w.part) or n.supply(w.supply) or n.kind(w.piece)
    if w.order_code and w.part:
        what = f"{n.piece(w.part)} ({w.order_code})"
    return f"{w.count} × {what}: {LINE_WORDS[w.state]}"


def _taken_in(w: d.TakenIn, _n: _Names) -> str:
    return _joined(
        _("Taken in as %(unit)s") % {"unit": shown_number(w.number)},
        _("with it: %(things)s") % {"things": ", ".join(w.accessories)} if w.accessories else "",
    )


def _described(w: d.Described, _n: _Names) -> str:
    fields = {
        _("device"): w.device, _("serial number"): w.serial, _("asset tag"): w.asset_tag, _("condition"): w.condition,
        _("accessories"): ", ".join(w.accessories or ()), _("pack"): w.pack,
    }  # fmt: skip
    changed = [f"{name}: {value}" for name, value in fields.items() if value]
    if w.checks:
        changed.append(_("checks before opening"))
    return _("Corrected: %(what)s") % {"what": "; ".join(changed) or _("nothing that is shown")}


def _hazard_met(w: d.HazardMet, _n: _Names) -> str:
    return _("Stopped: %(hazard)s. Told: %(told)s. Put: %(place)s.") % {
        "hazard": HAZARD_WORDS[w.what],
        "told": w.told,
        "place": w.place,
    }


def _custody(w: d.Custody, _n: _Names) -> str:
    return _joined(
        f"{w.item}: {CUSTODY_WORDS[w.state]}", w.place, _("by %(person)s") % {"person": w.person}
    )


def _handed_back(w: d.HandedBack, n: _Names) -> str:
    kept = ", ".join(n.part(part) for part in w.kept)
    return _joined(
        _("Handed back: %(outcome)s") % {"outcome": OUTCOME_WORDS[w.outcome]},
        w.evidence,
        _("put: %(place)s") % {"place": w.place} if w.place else "",
        _("pack: %(how)s") % {"how": PACK_LEFT_WORDS[w.pack]} if w.pack else "",
        _("loose pieces: %(how)s") % {"how": PIECES_WORDS[w.pieces]} if w.pieces else "",
        _("into the store: %(parts)s") % {"parts": kept} if kept else "",
        _("identity: %(words)s") % {"words": w.identity} if w.identity else "",
    )


def _symptoms(w: d.SymptomsConfirmed, n: _Names) -> str:
    shows = ", ".join(n.symptom(key) for key in w.shows) or _("none")
    lacks = ", ".join(n.symptom(key) for key in w.lacks)
    return _joined(
        _("Symptoms: %(names)s") % {"names": shows},
        _("looked for, not there: %(names)s") % {"names": lacks} if lacks else "",
    )


def _simple(words: object, *fields: str) -> Callable[[Any, _Names], str]:
    """A sentence with the happening's subject and, behind it, some of its texts."""

    def say(what: Any, names: _Names) -> str:  # noqa: ANN401 - any happening
        values: dict[str, object] = {"about": names.about(what) or "–"}
        values["count"] = getattr(what, "count", 1) or 1
        rest = [str(getattr(what, field)) for field in fields if getattr(what, field)]
        return _joined(str(words) % values, *rest)

    return say


_WORDS: Mapping[type[Happening], Callable[[Any, _Names], str]] = {
    r.Started: _started,
    r.Closed: _closed,
    r.Exchanged: _exchanged,
    r.Lost: _lost,
    r.Found: _found,
    r.Checked: _checked,
    r.FinalCheck: lambda w, n: _joined(f"{n.check(w.check)}: {CHECK_WORDS[w.outcome]}", w.text),
    r.Parked: _parked,
    r.Waived: _waived,
    r.Unreachable: _unreachable,
    r.OtherKind: _other_kind,
    r.PartLine: _part_line,
    r.TargetAdded: lambda w, n: _("Also: %(what)s") % {"what": n.piece(w.replace) or n.joint(w.reach)},
    r.TargetDropped: lambda w, n: _("No longer: %(what)s")
    % {"what": n.piece(w.replace) or n.joint(w.reach)},
    r.Opened: _simple(gettext_lazy("%(about)s opened")),
    r.Laid: lambda w, n: _("%(joint)s: laid in %(place)s")
    % {"joint": n.joint(w.joint), "place": w.compartment},
    r.Turned: lambda w, _n: _("Turned: %(side)s up") % {"side": told(side_name(w.side))},
    r.ActDone: _simple(gettext_lazy("Done: %(about)s")),
    r.Confirmed: lambda w, n: _("Confirmed: %(what)s") % {"what": n.hold(w) or n.about(w)},
    r.Renewed: lambda w, n: _("Renewed: %(amount)s × %(supply)s")
    % {"amount": f"{w.amount:g}", "supply": n.supply(w.supply)},
    r.Scrapped: _simple(gettext_lazy("Thrown away: %(count)d × %(about)s"), "reason"),
    r.Searched: _simple(gettext_lazy("Searched"), "where"),
    r.Missing: lambda w, n: ngettext(
        "%(joint)s: %(count)d was missing", "%(joint)s: %(count)d were missing", w.count
    )
    % {"joint": n.joint(w.joint), "count": w.count},
    r.CountCorrected: _simple(gettext_lazy("%(about)s: there are %(count)d")),
    r.Recounted: _simple(gettext_lazy("Recounted")),
    r.Stripped: lambda w, n: _("%(joint)s: %(what)s of %(count)d worn out")
    % {"joint": n.joint(w.joint), "what": WORN_WORDS[w.what], "count": w.count},
    r.Broken: _simple(gettext_lazy("%(about)s broke"), "text"),
    r.CarriedOver: lambda w, n: _("%(what)s carried over to %(part)s")
    % {"what": w.what, "part": n.part(w.part)},
    r.PartJudged: lambda w, n: _joined(f"{n.part(w.part)} {JUDGED_WORDS[w.state]}", w.text),
    r.PowerOn: _simple(gettext_lazy("Power on for a check")),
    r.PowerOff: _simple(gettext_lazy("Power away again")),
    r.Measured: lambda w, _n: f"{w.quantity}: {VOICE.number(w.value)} {w.unit}",
    r.Noted: lambda w, n: _joined(n.about(w), w.text, by=": "),
    r.Photo: _simple(gettext_lazy("Photo"), "text"),
    r.Paused: _simple(gettext_lazy("Pause"), "reason"),
    r.Resumed: _simple(gettext_lazy("Work goes on")),
    r.HandedOver: lambda w, _n: _("Handed over to %(person)s") % {"person": w.to},
    r.TakenBack: _simple(gettext_lazy("Taken back: an entry before"), "reason"),
    r.Finished: lambda w, _n: _("Work ended: %(outcome)s") % {"outcome": OUTCOME_WORDS[w.outcome]},
    d.TakenIn: _taken_in,
    d.Described: _described,
    d.HazardMet: _hazard_met,
    d.HazardCleared: lambda w, _n: _("The hazard is cleared, says %(person)s: %(reason)s")
    % {"person": w.person, "reason": w.reason},
    d.Placed: lambda w, _n: _("Put: %(place)s") % {"place": w.place},
    d.OwnerPhoto: _simple(gettext_lazy("Photo"), "text"),
    d.Custody: _custody,
    d.HandedBack: _handed_back,
    d.SymptomsConfirmed: _symptoms,
    d.FaultTried: lambda w, n: _("Tried: %(what)s: %(outcome)s")
    % {"what": n.fault_work(w.what), "outcome": _joined(told(outcome_words(w.outcome)), w.text)},
    d.FaultTakenBack: _simple(gettext_lazy("A doubtful result of the fault finding taken back")),
    d.LookedOver: lambda w, _n: _joined(
        _("Looked over and found good") if w.good else _("Looked over and not found good"),
        _("by %(person)s") % {"person": w.person} if w.person else "",
        w.text,
    ),
    d.OwnerErased: _simple(gettext_lazy("The owner’s name, contact, words and photos were erased")),
    d.BranchDecided: lambda w, _n: _joined(
        _("Two histories: what the other screen said was taken over")
        if w.decision == "taken"
        else _("Two histories: what the other screen said was set aside"),
        w.reason,
    ),
    d.WaitingGivenUp: _simple(
        gettext_lazy("A screen is held to be lost: %(count)d of its entries are decided on without what is missing")
    ),
    d.RevisionPublished: lambda w, _n: _joined(
        _("Published: %(device)s, revision %(revision)s")
        % {"device": w.device, "revision": w.revision[:8]},
        w.note,
    ),
    d.AccountChanged: lambda w, _n: f"{w.account}: {ACCOUNT_WORDS[w.what]}"
    + (f" ({w.role})" if w.role else ""),
    d.RuleChanged: lambda w, _n: f"{RULE_WORDS[w.rule]}: {w.value:g}",
}  # fmt: skip


def say(what: Happening, device: Device | None) -> str:
    """One sentence without its full stop.

    Args:
        what: Any happening of a job or of the depot.
        device: The device file that it goes by, None where there is none.
    """
    words = _WORDS.get(type(what))
    if words is None:
        return what.name.replace("_", " ")
    return words(what, _Names(device))
