"""What to do next with a unit, from where it stands: the likeliest step first."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _


@dataclass(frozen=True, slots=True)
class Standing:
    """How a unit stands.

    Attributes:
        unit: Its key.
        stage: Its stage.
        has_device: There is a published device file for it.
        run: Key of the job in hand, empty for none.
        is_split: Two histories of that job wait for a decision.
        waits_for: What it is parked for.
        open_joints: How many joints are open.
        has_gone: It has left.
        has_faults: Its device file tells of faults, so that what is wrong can be searched for.
    """

    unit: str
    stage: str
    has_device: bool = False
    run: str = ""
    is_split: bool = False
    waits_for: str = ""
    open_joints: int = 0
    has_gone: bool = False
    has_faults: bool = False


@dataclass(frozen=True, slots=True)
class NextStep:
    """A step: what it is called, where it is done, why now."""

    words: str
    address: str
    why: str = ""


def next_steps(at: Standing) -> tuple[NextStep, ...]:
    """What to do next; the first one is meant, the others are possible."""
    if at.has_gone:
        return (NextStep(_("See the record"), f"/units/{at.unit}/record/"),)
    if at.stage == "set_apart":
        return (
            NextStep(
                _("A lead clears the hazard, or it goes to scrap"),
                "#hazard",
                _("Nothing else is done with it: no power, no tools."),
            ),
            NextStep(_("Hand back"), f"/units/{at.unit}/hand-back/"),
        )
    back = NextStep(_("Hand back"), f"/units/{at.unit}/hand-back/")
    if at.is_split:
        why = _("Two screens worked on it without knowing of each other.")
        return (NextStep(_("Decide which history counts"), f"/runs/{at.run}/histories/", why), back)
    if at.stage == "proven":
        return (back,)
    return (*(_in_hand(at) if at.run else _to_begin(at)), back)


def _to_begin(at: Standing) -> tuple[NextStep, ...]:
    if at.has_device:
        return (*_search(at), NextStep(_("Plan the work"), f"/units/{at.unit}/plan/"))
    why = _("Without a device file nothing can be planned.")
    return (NextStep(_("Describe the device"), "/devices/", why),)


def _search(at: Standing) -> tuple[NextStep, ...]:
    if not at.has_faults:
        return ()
    return (NextStep(_("Find the fault"), f"/units/{at.unit}/fault/"),)


def _in_hand(at: Standing) -> tuple[NextStep, ...]:
    work = NextStep(_("Go on with the work"), f"/runs/{at.run}/work/")
    prove = NextStep(_("Prove that it works"), f"/runs/{at.run}/prove/")
    if at.stage == "parked":
        why = _("It waits for: %(what)s") % {"what": at.waits_for} if at.waits_for else ""
        return (NextStep(_("Take it up again"), f"/runs/{at.run}/park/", why), work)
    if at.stage == "to_prove":
        return (prove, work)
    return (work, *_search(at), NextStep(_("Put it aside"), f"/runs/{at.run}/park/"), prove)
