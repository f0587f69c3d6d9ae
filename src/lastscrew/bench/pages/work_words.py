"""The words of the work page's scripts, in the language of the request."""

from __future__ import annotations

from django.utils.translation import gettext as _

from lastscrew.paper.look import SIGNAL_LOOKS
from lastscrew.saying import told


def work_words() -> dict[str, str | dict[str, str]]:
    """Text by the name under which the scripts know it; values stand in braces."""
    signals: dict[str, str] = {name: told(look.word) for name, look in SIGNAL_LOOKS.items()}
    return {
        "signals": signals,
        **_of_steps(),
        **_of_status(),
        **_of_trouble(),
        **_of_other_things(),
    }


def _of_steps() -> dict[str, str]:
    return {
        "before": _("Before the work"),
        "wayIn": _("Way in"),
        "turning": _("Turning point"),
        "wayOut": _("Way out"),
        "after": _("After the work"),
        "stageOf": _("stage {number} of {count}"),
        "steps": _("(steps {numbers})"),
        "turnTo": _("turn to {side}"),
        "into": _("into {place}"),
        "from": _("from {place}"),
        "view": _("View of the side"),
        "noDrawing": _("The device file says nothing about the places on this side."),
        "done": _("done"),
        "doneSteps": _("Done: {count} steps"),
        "next": _("On"),
        "confirm": _("Confirm"),
        "readFirst": _("First read what else stands here ({count})"),
        "upTo": _("all done up to here"),
        "upToName": _("All done up to {name}"),
        "upToCount": _(
            "{count} entries are made at once. What is counted or guarded is confirmed one by one:"
        ),
        "upToStops": _(
            "An exchange or a check lies on the way: that is confirmed where it stands, one at a time."
        ),
        "allDone": _("Everything is done"),
        "allDoneText": _(
            "Every joint is closed. What was disturbed is tried next, and the books are closed."
        ),
        "prove": _("Prove that it works"),
        "record": _("Show the record"),
        "live": _("Power is on here"),
        "isolated": _("Power is away"),
        "check": _("Power is on for a check: nothing is opened or closed"),
        "outOne": _("{count} piece is out"),
        "outMany": _("{count} pieces are out"),
        "ledger": _("What is out, and where it lies"),
        "lostSearched": _("{count} × {text} lost, searched for"),
        "lostUnsearched": _("{count} × {text} lost, not searched for yet"),
        "time": _("{worked} of work so far; planned: {planned}."),
        "worker": _("Last worked on by {name}."),
        "timeOnly": _("{worked} of work so far."),
    }


def _of_status() -> dict[str, str]:
    return {
        "allSent": _("Everything is stored."),
        "unsentOne": _("1 entry not sent yet"),
        "unsentMany": _("{count} entries not sent yet"),
        "offline": _("no network; it is kept here and sent later"),
        "offlineNow": _("No network. Go on: everything is kept here and sent later."),
        "signedOutNow": _(
            "You are signed out. Sign in again in another window; what you do is kept here."
        ),
        "signedOut": _("sign in again in another window; it is kept here"),
        "troubled": _("the server does not take it now; it is kept here"),
        "photoWaits": _("1 photo waits."),
        "photosWait": _("{count} photos wait."),
        "refused": _("One entry was not taken and was kept as a note: {why}"),
        "notKept": _(
            "This job is not kept on this machine, and there is no network. Open it once with the network."
        ),
        "split": _(
            "Two screens worked on this job without knowing of each other. A person decides what counts."
        ),
        "bothHistories": _("Show both histories"),
        "ended": _("This job has ended."),
        "parked": _("Parked: {place}. It waits for: {what}."),
        "parkedOnly": _("Parked: {place}. For what it waits was not said."),
        "goOn": _("Count and go on"),
        "paused": _("Paused."),
        "resume": _("Go on"),
        "waitsFor": _("Not here yet: {what}."),
        "foundOtherwise": _(
            "Found otherwise than the device file says; a lead sees it as a proposed edit:"
        ),
        "losses": _("This will be lost: {what}."),
        "follows": _("Kept. The plan follows."),
        "noted": _("Kept."),
    }


def _of_trouble() -> dict[str, str]:
    return {
        "wrongAt": _("{name}: what is the matter?"),
        "howMany": _("How many"),
        "oneMore": _("One more"),
        "oneLess": _("One fewer"),
        "otherOrder": _("Another order was used"),
        "otherJoint": _("It is about another joint"),
        "hazard": _("A swollen or damaged pack, or liquid"),
        "setApart": _("Set it apart: who was told, where it was put"),
        "openedInstead": _("Opened instead"),
        "closedInstead": _("Closed instead"),
        "short": _("{name}: {count} too few lie there"),
        "shortNew": _("{count} new put in"),
        "worn": _("{name}: {count} worn out"),
        "wornNew": _("{count} new put in, the worn ones thrown away"),
        "wornBack": _("Put back as they are"),
        "wornOut": _("worn out"),
        "shortEmpty": _("{count} left empty"),
    }


def _of_other_things() -> dict[str, str]:
    return {
        "shut": _("Shut"),
        "note": _("Note or photo"),
        "noteText": _("Note"),
        "keepNote": _("Keep the note"),
        "photo": _("Photo of this step"),
        "keepPhoto": _("Keep the photo"),
        "passCode": _(
            "This looks like a pass code. Notes are read by everybody: take it out, or keep it all the same."
        ),
        "faultWaits": _("The next step of the search for the fault is being worked out."),
        "faultRefused": _("This was not taken: give a number, or choose another outcome."),
        "faultNotKept": _("This was not kept: say it again when the network is there."),
        "more": _("More"),
        "byStep": _("Show one step at a time"),
        "byStage": _("Show whole stages"),
        "readOn": _("Read aloud"),
        "readOff": _("Stop reading aloud"),
        "pause": _("Pause"),
        "takeBack": _("Take back: {text}"),
        "handOver": _("Hand over"),
        "handOverTo": _("Hand over to"),
        "also": _("Exchange this too"),
        "add": _("Add to the job"),
        "fewer": _("Leave out of the job"),
        "drop": _("Leave out: {name}"),
    }
