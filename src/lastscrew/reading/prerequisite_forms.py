"""Forms in which a running text says what must be off, or in which state the machine must be, before the work.

Each form is a pattern with a group ``parts``; what stands there is read as noun phrases. ``way``: a state ("unplugged")
gives a state, anything else a part that is off.
"""

from __future__ import annotations

import re

OUT = r"(?:removed|off|out of the way|out|detached|taken (?:off|out)|gone|lifted (?:off|out)|dismounted|dismantled)"
_STATE = (
    r"(?:unplugged|disconnected|drained|isolated|discharged|powered off|powered down|switched off|turned off|cool|cold|"
    r"drawn|pulled|withdrawn|open|opened|closed|locked out|tagged out|locked|unlocked|empty|blocked|shut down|swung (?:open|out)|raised|lowered)"  # noqa: E501
)
_IS = r"(?:is|are|has been|have been|has|have|stands?|remains?)"
_MUST = r"(?:has to|have to|needs? to|must|should|will have to|will need to|'ll have to|'ll need to|ought to|wants? to)"
_PARTS = r"(?:the |your |both |its )(?P<parts>[^.;:,()]{2,70}?)"
_WAY = rf"(?P<way>{OUT}|{_STATE})"
_ROW = r"(?P<parts>(?:the|your|both|its) (?:(?!\b(?:is|are|has|have|was|were|until|that|which)\b)[^.;:()]){2,90}?)"
"""Several in a row, commas between them."""
_START = r"^\W*(?:(?:and|so|now|note that|remember that|again|also|as before|of course)\b[,\s]*)*"

_FORMS = (
    rf"{_START}(?:you|we) (?:must|should|need to|will need to|have to|ought to) (?:first |already )?have (?:already |first )?(?P<way>removed|taken (?:off|out)|opened|dismantled|detached|lifted (?:off|out)) {_PARTS}(?: (?:off|out))?\W*(?:first|before|already)?\W*$",  # noqa: E501
    rf"{_START}{_PARTS} {_MUST} (?:first |already )?(?:come|be|go|have been) (?:already |taken )?{_WAY}(?:,? (?:first|beforehand|already)\b|,? (?:before|for this|for that)\b|,? to (?:get|reach|do)\b)",  # noqa: E501
    rf"{_START}(?:before|to|in order to)\b[^,]{{3,60}},?\s+{_PARTS} {_MUST} (?:first |already )?(?:come|be|go|have been) (?:already |taken )?{_WAY}",  # noqa: E501
    rf"{_START}if {_PARTS} {_IS} (?:still|not already|not yet)\b[^,]{{0,30}}, (?:first )?(?P<way>take|remove|lift|pull)\b[^.]*?\b(?:first|before|now)\b",  # noqa: E501
    rf"\b(?:can|may) only be \w+(?: \w+)? (?:once|after|when|if|with) {_PARTS} {_IS} (?:been )?(?:already )?{_WAY}",
    rf"\b(?:cannot|can't|can not|won't|not)\b[^.,]{{2,50}}? (?:unless|until|before|without|as long as) {_PARTS} {_IS} (?:been )?{_WAY}",  # noqa: E501
    rf"{_START}(?:assuming|i assume|we assume|i'll assume|we'll assume|it is assumed|it's assumed|(?:this|the) (?:\w+ )?(?:assumes|presupposes|presumes)|provided|given)(?: that)? {_PARTS} {_IS} (?:already )?(?:been )?(?:already )?{_WAY}",  # noqa: E501
    rf"{_START}(?:assuming|i assume|we assume|i'll assume|i'm assuming|it is assumed|(?:this|the) (?:\w+ )?(?:assumes|presupposes|presumes)|presuming)(?: that)? (?:you've|you have|you)(?: already)? (?P<way>removed|taken (?:off|out)|got) {_PARTS}(?: {OUT})?\W*$",  # noqa: E501
    rf"{_START}(?:removing|replacing|reaching|removal of|getting at|to remove|to reach)\b[^,.]{{2,50}} (?:requires?|needs) (?:that )?{_PARTS} (?:{_IS} )?(?:to (?:be|come|have been) )?(?:been )?{_WAY}",  # noqa: E501
    rf"{_START}(?:take off|take out|remove|detach|lift off) {_PARTS},? (?:(?P<way>as) (?:described|explained|shown|told|set out|outlined)(?: \w+)? (?:above|earlier|before|previously|already)|(?P<way2>as above|as before))",  # noqa: E501
    rf"{_START}(?:for (?:that|this|it)(?: one)?,? )?{_PARTS} (?:have|has)(?: all| both)? (?:got )?to (?:all |both )?(?:be|come) (?P<way>{OUT})\b",  # noqa: E501
    rf"{_START}(?:for (?:that|this)(?: one)?,? )?(?:you've|you have|we've) (?:got to|gotta|to) (?:have|get) {_PARTS} (?P<way>{OUT})\b",  # noqa: E501
    rf"{_START}(?:do|start with|begin with|first comes|first goes) {_PARTS} (?P<way>first|{OUT})\W*$",
    rf"{_START}(?:do|complete|finish|start with|begin with) {_ROW}(?: first| before(?:hand)?)\W*$",
    r"\b(?:no need|not necessary|n't (?:need|have)|not (?:need|have)|can stay)\b.*[,;:–—-]\s*(?:just |only )?(?:the )?(?P<parts>[\w /-]{2,40}?) only\W*$",  # noqa: E501
    r"\b(?:only necessary to|only (?:need|have) to|need only|(?:just|only) need to|(?:enough|sufficient) to) (?:remove|take off|take out|detach|lift off|open) (?P<parts>(?:the|your|both) [^.;:()]{2,60}?)\W*$",  # noqa: E501
    rf"\b(?:need not|needn't|not (?:need|have) to|n't (?:need|have) to) (?:be (?:removed|taken (?:off|out)|dismantled)|come (?:off|out))\b.*\bbut {_PARTS} (?:must|does|do|has to|have to)\W*$",  # noqa: E501
    rf"\b(?:provided|providing|on condition|only if|only when)(?: that)? {_PARTS} {_IS} (?:already )?(?:been )?{_WAY}",
    rf"^\W*(?:(?:in|for|at|during) (?:this|these|the|all)\b[^,:]{{2,30}}?,?\s+)?{_PARTS} {_IS}(?: been)? already (?:been )?{_WAY}\b",  # noqa: E501
    rf"\b(?:comes?|goes|lifts?|can be \w+) (?:out |off |up )?only after {_ROW}\W*$",
    rf"{_START}(?:you(?:'ll|'d| will| would)?|we(?:'ll)?|this(?: step| job| one)?)\s+(?:also )?(?:needs?|have|has|wants?|requires?)(?:\s+to\s+(?:have|get))?\s+[^.;:]{{0,60}}?\band {_PARTS} (?P<way>{_STATE})\b",  # noqa: E501
    rf"{_START}(?:you(?:'ll|'d| will| would)?|we(?:'ll)?|this(?: step| job| one)?)\s+(?:also )?(?:needs?|have|has|wants?|requires?)(?:\s+to\s+(?:have|get))?\s+{_PARTS} (?P<way>{_STATE})\b",  # noqa: E501
    rf"{_START}(?:with|once|after|when|now that)\s+{_PARTS} (?:{_IS} )?(?:been )?(?:now |already )?(?P<way>{_STATE})\b(?=[,\s])",  # noqa: E501
)
_PATTERNS = tuple(re.compile(form, re.IGNORECASE) for form in _FORMS)
_CONTRARY = re.compile(r"(?:n't|\bnot|\bno longer|\bnever)$", re.IGNORECASE)
"""As in "the battery doesn't | have to come out"."""
_WAY_IS_STATE = re.compile(rf"^{_STATE}$", re.IGNORECASE)


_POWER = (
    r"(?:mains(?: \w+)?|(?:power|supply|charging|charger)(?: (?:cord|cable|lead|plug|supply|source|adapt[eo]r|brick))?|charger|(?:power )?brick|wall wart|"  # noqa: E501
    r"(?:ac |wall |mains |power )?(?:adapt[eo]r|plug|cord)|wall (?:socket|outlet))"
)
_ALONG = (
    r"(?:migrate|evacuate|fail over|drain off|move (?:all|any|the) [\w -]*(?:off|away|to another)|save|log (?:off|out)|quit|"  # noqa: E501
    r"close (?:all|any|your|every) (?:open )?(?:program|file|application|document|window)s?|(?:lock|secure) (?:it|them)\b|"  # noqa: E501
    r"hang (?:your|a|the)\b|put (?:it|the (?:plug|key|fuse)) (?:in your|aside|away)\b|after \d+ min\w*)"
)
"""What goes along with making safe and is no state of the machine by itself."""
_SAFE_ACTS = re.compile(
    r"^(?:(?:first(?: of all)?|then|next|please|always|now|also|finally)\b,?\s*)*(?:"
    r"(?:switch|turn|power|shut) (?:[\w-]+ ){0,5}?off\b|(?:switch|power|shut) (?:[\w-]+ ){0,5}?down\b|shut down\b|"
    r"(?!(?:remove|detach|pull out) (?:the |both )*(?:power )?suppl)"
    rf"(?:unplug|disconnect|pull(?: out)?|remove|detach|cut|switch off|isolate)(?: off| out)? (?:(?:the|its|your|all|any|both) )*{_POWER}s?\b|"  # noqa: E501
    r"(?:unplug|disconnect|isolate|de-?energi[sz]e) (?:it|(?:the |your )?(?:machine|device|unit|printer|computer|system|appliance|instrument))\b|"  # noqa: E501
    r"(?:isolate|disconnect) (?:[\w-]+ ){0,4}?from (?:the )?(?:mains|supply|power)\b|"
    r"(?:pull|take|draw) (?:the )?(?:[\w-]+ )?plug\b|discharge\b|(?:the )?(?:[\w-]+ )?(?:plug|cord|line) pull (?:out|off|down)\b|"  # noqa: E501
    r"(?:pull|unplug|disconnect|remove|take off) (?:(?:the|any|all|your) )+(?:aux|usb|network|charging|headphone|audio|external|peripheral|data|video|ethernet|serial|other)\w* ?(?:cable|lead|device|peripheral|accessor|plug)\w*|"  # noqa: E501
    r"(?:open|trip|switch off) (?:the )?(?:[\w-]+ )?(?:breaker|isolator)\b|"
    r"unplug everything\b|kill the (?:power|juice|supply)\b|"
    r"wait\b|(?:let|allow) (?:[\w-]+ ){1,4}?(?:to )?(?:cool|rest|stand|run down|settle|discharge|bleed|come to (?:a|an)\b)|"  # noqa: E501
    r"(?:set|put|place|bring|switch) (?:[\w-]+ ){1,3}?(?:in|into|to)(?: \w+)? (?:maintenance|service|standby|transport|safe|parking)\b|"  # noqa: E501
    r"(?:drain|vent|bleed|depressuri[sz]e|(?:relieve|release) (?:[\w-]+ ){0,3}pressure|stop (?:the|all) (?:\w+ )?(?:machine|pump|drive|engine|line|press|job|motor)s?)\b|"  # noqa: E501
    r"(?:close|shut) (?:the )?(?:[\w-]+ ){0,3}(?:tap|valve|cock)s?\b|"
    r"(?:lock|tag) (?:it|the [\w-]+) (?:out|off)\b|"
    rf"{_ALONG})",
    re.IGNORECASE,
)
_BY_ITSELF_WORK = re.compile(
    rf"(?:wait\b|(?:pull|take|draw) (?:out )?(?:the )?plug\b|close\b|shut the\b|let\b|allow\b|drain\b|vent\b|bleed\b|stop\b|{_ALONG})",  # noqa: E501
    re.IGNORECASE,
)
"""What alone may as well be a step."""
_ALONG_ONLY = re.compile(_ALONG, re.IGNORECASE)
_THE_THING = re.compile(
    r"\b(?:the|your|this)\s+(?P<thing>[\w-]+(?: [\w-]+){0,2}?)(?=\s+(?:to|from|off|on|in|into|at|with|down|by|for)\b|$)",  # noqa: E501
    re.IGNORECASE,
)
_SHUT_VALVE = re.compile(
    r"^\W*(?:close|shut) (?:the )?(?:[\w-]+ ){0,3}(?:tap|valve|cock)s?\b", re.IGNORECASE
)
_UNPLUG_IT = re.compile(r"^\W*unplug (?:it|everything)\W*$", re.IGNORECASE)
_IT_DOWN = re.compile(
    r"^(?P<verb>shut|power|switch|turn) (?:it|them) (?P<way>down|off)\b", re.IGNORECASE
)
_NEXT_ACT = re.compile(
    r"\s*(?:[,;]|\band\b|\bthen\b)(?:\s|\band\b|\bthen\b)*(?=(?:switch|turn|power|shut|unplug|disconnect|pull|remove|detach|after \d|plug pull|"  # noqa: E501
    r"cut|isolate|take|draw|discharge|open|trip|wait|let|allow|close|lock|tag|secure|hang|put|set|drain|vent|bleed|stop|"
    r"migrate|save|log)\b)",
    re.IGNORECASE,
)


def made_safe(text: str, *, begun: bool = False) -> list[str]:
    """As in "Switch it off and unplug the mains lead." before the first step: states, if all of it makes safe.

    ``begun``: the sentence before made safe, so that "Let the heater cool." goes on with it.
    """
    bare = re.sub(r"\s*\([^()]*\)", "", text).strip(" .!*_")
    bare = re.sub(
        r"^(?:[A-Za-z ]{3,30}:\s*)?(?:(?:you |please )?(?:must|need to|should)\s+)?", "", bare
    )
    acts = [act.strip(" ,.") for act in _NEXT_ACT.split(bare)]
    safe = all(_SAFE_ACTS.match(act) for act in acts)
    shut = len(acts) > 1 and any(_SHUT_VALVE.match(act) for act in acts)
    if not safe or not (begun or shut or any(not _BY_ITSELF_WORK.match(act) for act in acts)):
        return []
    asked = [k for k, act in enumerate(acts) if not _ALONG_ONLY.match(act)]
    return [_named(acts[k], acts[:k]) for k in asked]


_POWERED_OFF = re.compile(
    r"^\W*(?:first of all,? |first,? |to (?:start|begin) with,? |please |always )*(?:"
    r"(?:switch|turn|power|shut) (?:(?:it|the|your|this|that) ?)(?:[\w-]+ ){0,3}?(?:off|down)|(?:switch|power|shut) (?:off|down)(?: (?:the|your|it)\b[^,;]*)?|"  # noqa: E501
    rf"unplug (?:it|everything|(?:the|your) {_POWER})|disconnect (?:the|your) {_POWER}|kill the (?:power|juice|supply)[^,;]*)"  # noqa: E501
    r"(?=\s*(?:,|and\b|then\b)\s*)",
    re.IGNORECASE,
)


_SOURCE = r"(?:the )?(?:mains(?: plug| lead| cable)?|power(?: plug| cord| lead)?|supply|machine|unit|device|plug|lead|charger|adapt[eo]r)"  # noqa: E501
_IS_OFF = rf"{_SOURCE}(?: is| are)?(?: switched| turned| pulled)? (?:off|out|unplugged|disconnected|isolated)"
_OFF_NAMED = re.compile(
    rf"^\W*(?:for (?:all|everything)\b[^,:]{{0,30}}[,:]\s*|all of (?:these|this|it)[,:]\s*)?(?P<state>{_IS_OFF}(?:(?:,| and|, and) {_IS_OFF})*)(?=\W*$|[.,;:])",  # noqa: E501
    re.IGNORECASE,
)


def off_named(text: str) -> str:
    """As in "Mains off and the plug out, …" at the head of a sentence: that state; ``""`` without."""
    match = _OFF_NAMED.match(text)
    return match["state"] if match else ""


def powered_off_first(text: str) -> str:
    """As in "Switch the thing off and take out the card": the state that the first act brings about; ``""`` without."""
    match = _POWERED_OFF.match(text)
    said = match.group().strip(" ,") if match else ""
    return re.sub(
        r"^\W*(?:first of all|first|to (?:start|begin) with|please|always),? ",
        "",
        said,
        flags=re.IGNORECASE,
    )


def _named(act: str, earlier: list[str]) -> str:
    """As in "… off the node | and shut it down": shut down the node; "unplug it": unplugged."""
    if _UNPLUG_IT.match(act):
        return "unplugged"
    things = [match["thing"] for one in earlier for match in _THE_THING.finditer(one)]
    moved = _IT_DOWN.match(act)
    return f"{moved['verb']} {moved['way']} the {things[-1]}" if moved and things else act


def told_before(text: str) -> tuple[str, str] | None:
    """What a sentence asks for, as (words of the parts, state or ``""``); None where it asks for nothing."""
    for pattern in _PATTERNS:
        match = pattern.search(text)
        if match is None or _CONTRARY.search(match["parts"]):
            continue
        if re.search(r"n't\b|\bnot\b", match["parts"]):
            continue
        way = match.groupdict().get("way") or ""
        return match["parts"], way if _WAY_IS_STATE.match(way) else ""
    return None


_POSTURE = re.compile(
    r"\b(?:is|are)\s[^.;:]{2,40}?\s(?:and|,)\s+(?P<how>(?:lying|standing|sitting|resting|placed|put|lies|stands|rests)\s+(?:on|in|at|upside|face|flat)\b[^.;:,]*)",
    re.IGNORECASE,
)
_AS_WELL = re.compile(
    r"^\s*,?\s*(?:and|plus|as well as|together with)\s+(?P<parts>(?:the|your|its)\s+(?:(?!\b(?:is|are|has|have|then|you|we|it)\b)[\w /-]){2,40}?)(?:\s+(?:too|as well|also|of course|obviously|first))*\W*$",  # noqa: E501
    re.IGNORECASE,
)


def posture(text: str) -> str:
    """As in "… is powered off and lying on the table": how the machine stands or lies; ``""`` where nothing is said."""
    match = _POSTURE.search(text)
    return match["how"].strip() if match else ""


_AND_DONE = re.compile(
    rf",?\s+and (?:have )?(?P<way>{_STATE}|emptied) (?:the|your|all|both) (?P<thing>[\w -]{{2,40}}?)\W*$",
    re.IGNORECASE,
)


def and_done(text: str) -> tuple[str, str]:
    """As in "… that you have removed the door | and emptied the tank": the sentence before, and the state."""
    match = _AND_DONE.search(text)
    if match is None or told_before(text[: match.start()]) is None:
        return text, ""
    return text[: match.start()], f"the {match['thing']} is {match['way']}"


def as_well(rest: str) -> str:
    """As in "You need the panels off | , and the skirt too": words of the parts that are asked for as well."""
    match = _AS_WELL.match(rest)
    return match["parts"] if match else ""
