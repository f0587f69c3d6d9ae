"""What a field card says must be off, or in which state the machine must be: "Needs: lid, pack", "isolator locked"."""

from __future__ import annotations

import re

from lastscrew.reading.card_words import HAS_NOUN, POWER, SPLIT, is_power
from lastscrew.reading.lexicon import Lexicon

_LISTED = re.compile(
    r"^\W*(?P<word>req(?:uire[sd]?|\.|uirements?|s)?|needs?|access(?: req\w*)?|pre-?req\w*\.?|pre(?:p|cond\w*|lim\w*)?|first|before(?: (?:start|work|anything))?|remove first|off first|rem(?:ove)? first|prior|after|with|start(?:ing)? (?:from|with|cond\w*)|assumes?|initial(?: cond\w*)?|cond(?:ition)?s?|state|safe(?:ty)?|isolate|isolation|make safe|depends(?: on)?|follows|requires first|do first|off already|already off|power)\s*(?::|\s[-–=])\s*(?P<rest>.+)$",  # noqa: E501
    re.IGNORECASE,
)
_BARE = re.compile(
    r"^\W*(?P<word>needs?|requires?|req|after|with|w/|per|do|see|assumes|follows|once)\s+(?P<rest>[\w/&+,' -]{1,60}?)(?:\s+(?P<way>off|out|removed|done|first|open|already off|clear))*\W*$",  # noqa: E501
    re.IGNORECASE,
)
_OFF_FIRST = re.compile(
    r"^\W*(?P<rest>[\w/&,+ -]{1,60}?)\s+(?:(?:off|out|removed|away)\s+)?(?:first|before|already|beforehand)\W*$",
    re.IGNORECASE,
)
_GONE = re.compile(
    r"^(?:the )?(?P<thing>[\w/&+' -]+?)(?:\s+(?:off|out|removed|detached|away|gone|clear|done|first|already))*\s*(?:\([^)]*\))?$",  # noqa: E501
    re.IGNORECASE,
)
_AS_STATE = re.compile(
    r"^(?:the )?(?P<thing>[\w/&+' -]+?)\s+(?P<state>(?:swung |set |turned |locked |blocked )?(?:open(?:ed)?|closed|shut|drained|empty|emptied|blocked(?: open| up)?|locked(?: out| off| open)?|raised|lowered|cool|cold|tagged|unplugged|disconnected|isolated|parked|discharged|depressuri[sz]ed|chocked|dark|stopped|off|out|pulled|at zero))(?:\s+and\s+(?P<more>\w+))?(?:\s+(?:at|by|in|from)\s+.+)?$",  # noqa: E501
    re.IGNORECASE,
)  # fmt: skip
_TOOL_WORDS = re.compile(
    r"\b(?:driver|spanner|spnr|hex|key|spudger|pick|socket|pliers|torx|wrench|gloves|ladder|grease|paste|meter|PH\d|T\d+|\d+ ?mm)\b",  # noqa: E501
    re.IGNORECASE,
)
_AND = re.compile(
    r"\s*[,;]\s*|[.!]\s+(?=[A-Z])|\s+(?:and|&|\+|plus|then)\s+(?!tagged\b|locked\b|off\b|open\b)|\s*\+\s*",
    re.IGNORECASE,
)
_STAYS = re.compile(r"\b(?:not (?:nec\w*|needed|req\w*)|can stay|may stay|stays?)\b", re.IGNORECASE)
_NONE = frozenset(["nil", "none", "n/a", "-", "nothing", "no"])


def before_line(bare: str, lexicon: Lexicon, names: dict[str, str] | None = None) -> str:
    """A line that says what must be off first, as "Remove first: …" or "Make sure that …"; ``""`` for other lines.

    ``names``: what the letters and numbers of the text's own titles stand for ("needs A").
    """
    bare = bare.strip()
    listed = _LISTED.match(bare)
    if listed is None or listed["word"].lower() in ("power", "isolate", "state"):
        power = _power_line(bare, lexicon)
        if power:
            return power
    if listed is not None:
        if listed["word"].lower() in (
            "with",
            "after",
            "first",
            "state",
            "power",
        ) and HAS_NOUN.search(bare):
            return ""
        return _asked(listed["rest"], lexicon, names or {}, said=listed["word"].lower())
    first = _OFF_FIRST.match(bare)
    moved = first is not None and re.search(r"\b(?:out|off|up|away|in|on)\s*,", first["rest"])
    if (
        first is not None
        and not moved
        and not any(
            _ordered(piece, lexicon) for piece in re.split(r"\s*,\s*", first["rest"]) if piece
        )
    ):
        return _asked(first["rest"], lexicon, names or {}, said="")
    loose = _BARE.match(bare)
    if loose is not None:
        word, named = loose["word"].lower(), references(loose["rest"], names or {})
        known = named != loose["rest"].strip()
        if (
            known
            or word in ("needs", "need", "requires", "require", "req", "assumes")
            or (word in ("after", "with", "w/", "once") and loose["way"])
        ):
            return _asked(loose["rest"], lexicon, names or {}, said=word)
    return ""


def _ordered(rest: str, lexicon: Lexicon) -> bool:
    """As in "undo the left one first": an order, no part that is off."""
    words = tuple(word.strip(",.") for word in rest.lower().split())
    if " ".join(words[:2]) in lexicon.compounds:
        return False  # "load cell off first" names a part, though "load" alone is an order
    return bool(lexicon.verb_of(words[0], "base")) and not lexicon.is_noun(words[0])


_WORK = re.compile(
    r"\d\s?[x×]\s?M|\b(?:loosen|slacken|slide|tilt|unhook|unplug the|lift)\b", re.IGNORECASE
)


def _asked(rest: str, lexicon: Lexicon, names: dict[str, str], *, said: str) -> str:
    rest = re.sub(r"\s*\([^)]*\)", "", rest).strip(" .!")
    if (
        _WORK.search(rest)
        or HAS_NOUN.search(rest)
        or (said == "access" and re.search(r"\bpull\b", rest))
    ):
        return ""
    rest = references(rest, names)
    parts, states = [], []
    for piece in _AND.split(rest):
        text = (piece or "").strip(" .!")
        if not text or text.lower() in _NONE or _STAYS.search(text):
            continue
        if _TOOL_WORDS.search(text) and not _AS_STATE.match(text):
            return ""
        stated = _AS_STATE.match(text)
        plain = (
            stated and stated["state"].lower() in ("off", "out") and not is_power(stated["thing"])
        )
        if stated and not plain:
            more = f" and {stated['more']}" if stated["more"] else ""
            states.append(f"the {stated['thing']} is {stated['state'].lower()}{more}")
        elif _is_supply(text) and text not in names.values():
            states.append(f"the {text} is off")
        elif (
            (is_power(text) and text not in names.values() and text.split()[-1].lower() != "supply")
            or re.match(r"(?i)\d|wait|wrist|esd|strap", text)
            or _ordered(text, lexicon)
        ):
            states.append(text[:1].lower() + text[1:])
        else:
            gone = _GONE.match(text)
            parts.append(gone["thing"] if gone else text)
    states = _powered(states)
    if parts or states:
        return "Remove first: " + ", ".join([*parts, *states]) + "."
    return "Note: nothing comes first." if said else ""


def _is_supply(text: str) -> bool:
    """As in "Off first: mains, pole supply": what feeds the machine, and no part such as a power supply."""
    words = text.lower().split()
    fed = words[-1] == "supply" and len(words) == 2 and words[0] != "power"
    return len(words) <= 3 and (fed or words[-1] in ("mains", "power", "breaker", "isolator"))


def _powered(states: list[str]) -> list[str]:
    """What stands beside "mains out" ("60 s", "wrist strap on") belongs to the same state."""
    return [state for state in states if not re.match(r"\d|wait", state)] or states


def references(rest: str, names: dict[str, str]) -> str:
    """As in "A-C", "card 3", "steps 1 and 2": the parts that the titles of these letters and numbers name."""
    if not names:
        return rest.strip()
    bare = re.sub(
        r"^(?:see |as |per |do |from )?(?:cards?|steps?|sections?|sect\.?|jobs?|tasks?|procs?\.?|procedures?|parts?|§|#)\s*(?=[A-Z\d])",  # noqa: E501
        "",
        rest.strip(),
        flags=re.IGNORECASE,
    )
    order = list(names)
    found: list[str] = []
    for piece in re.split(r"\s*(?:,|&|\+|/|\band\b|\bthen\b|;)\s*", bare):
        key = piece.strip(" .").upper()
        ranged = re.fullmatch(
            r"([A-Z]|\d{1,2})\s*(?:-|–|to|TO|THRU|THROUGH)\s*([A-Z]|\d{1,2})", key
        )
        if ranged and ranged[1] in names and ranged[2] in names:
            low, high = order.index(ranged[1]), order.index(ranged[2])
            found += [names[k] for k in order[low : high + 1]]
        elif key in names:
            found.append(names[key])
        else:
            found.append(piece.strip())
    return ", ".join(found)


def _power_line(bare: str, lexicon: Lexicon) -> str:
    """As in "Pwr off, disc. mains.", "Mains lead out. Key off.": a state, where every piece speaks of power."""
    bare = re.sub(
        r"^(?P<thing>\w+(?: \w+)?)\s*:\s*(?=\S)",
        lambda m: (
            f"{m['thing']} "
            if is_power(m["thing"])
            else ""
            if m["thing"].lower() in ("isolate", "safe")
            else m.group()
        ),
        bare,
        flags=re.IGNORECASE,
    )
    pieces = [piece.strip() for piece in SPLIT.split(bare) if piece and piece.strip()]
    strap = re.match(
        r"^(?P<thing>(?:esd|wrist|antistatic|anti-static|ground\w*) strap)(?: on| fitted| worn)?$",
        bare.strip(" ."),
        re.IGNORECASE,
    )
    if strap is not None:
        return f"Make sure that the {strap['thing']} is on."
    first = _AS_STATE.match(pieces[0]) if pieces else None
    if first is None or not is_power(first["thing"]) or len(pieces) > 5:
        return ""
    if re.search(r"\b(?:plug|lead|cord|supply)s?\b.*\b[A-Z]{1,4}-?\d{1,3}\b", first["thing"]):
        return ""
    part = {"psu", "supply", "battery"} & {word.lower() for word in first["thing"].split()}
    if part and first["state"].lower() == "out":
        return ""
    states = []
    for piece in pieces:
        stated = _AS_STATE.match(piece)
        if stated is not None and stated["state"].lower():
            more = f" and {stated['more']}" if stated["more"] else ""
            states.append(f"{stated['thing'].lower()} is {stated['state'].lower()}{more}")
            continue
        row = piece.lower().split()
        if lexicon.verb_of(row[0], "base") and not (set(row) & POWER) and row[0] != "wait":
            return ""
        states.append(piece[:1].lower() + piece[1:])
    return (
        "Make sure that "
        + " and ".join(f"the {state}" if " is " in state else state for state in states)
        + "."
    )
