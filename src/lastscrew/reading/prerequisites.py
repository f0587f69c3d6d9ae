"""What must be done before: references to other procedures, parts that must be off, states.

Three searches ask the same of a sentence, and each reads what the one before it left: in speech the rules for what is
said in passing (``asked_by_rule``) take out the stretch that asks, so that the rest can be work; then, in any text, the
forms of this module and of ``prerequisite_forms``; last the sense of the whole sentence (``asked_by_sense``), which
needs a thing, a word for "gone" or for a state (both searches share them: ``before_off``, ``before_state``) and a word
that asks. All give ``Required``. Lines under "Before you begin" are read by ``listed_before`` (what asks for nothing
there: ``not_asked``); what is said once for several procedures, or refers to what another one asks for, by
``said_once``.
"""

from __future__ import annotations

import re

from lastscrew.reading.asked_by_sense import asks_nothing, by_sense, rest_of_label
from lastscrew.reading.before_words import (
    NOUN_REMOVAL,
    OFF,
    clean,
    is_state,
    is_tied,
    objects_after,
    strip_reference,
    things_of,
    together,
)
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.listed_before import STATE_ALONE, listed
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.prerequisite_forms import (
    OUT,
    and_done,
    as_well,
    made_safe,
    off_named,
    posture,
    powered_off_first,
    told_before,
)
from lastscrew.reading.required import Kind, Required
from lastscrew.reading.tokens import tokenise

__all__ = ["is_check", "is_state", "listed", "named_in_title", "of_sentence", "single_states"]

_REFERENCE = re.compile(
    r"(?:\(\s*(?:para(?:graph|s)?\b\.?|clause|sub-?section|ref\b\.?)\s*[\dA-Z][^)]*\)|\(\s*\d+(?:\.\d+)+[a-z]?(?:\s*,[^)]*)?\s*\)|\(\s*(?:FRU|CRU|Unit|Task|Proc\w*|Job|Card|Sheet|(?-i:[A-Z]{2,3}-))\s*\d+(?:[.-]\d+)*\s*\)|\(\s*(?:procedure|task|job)\b[^)]*\))|"
    r"(?:\(\s*(?:see|refer|cf\.?|section|sect\.|chapter|page|pages|p\.|pp\.|steps?)\b(?!\s*(?:fig|image|picture|photo|\d*\s*in fig)))"  # noqa: E501
    r"|\b(?:see|refer to|reference)\s+(?:also\s+)?(?:the\s+)?(?!fig|image|picture|photo|above|illustration|diagram|note|table)[\"“'‘A-Z\dtps(]"  # noqa: E501
    r"|\bas (?:described|explained|shown|outlined|detailed|instructed) (?:in|on|under) (?:the\s+)?(?!fig|image|picture|photo)(?:[\"“'‘]|section|step|chapter|page|\w+ing\b|procedure|\d|[A-Z])"  # noqa: E501
    r"|\b(?:according to|as per|as in)\s+(?:section |chapter |para(?:graph)? |step )?\d|\bon page\s+\d|\(p+\.\s*\d|[▶►→]\s*\S|\bsection\s+\d|\bfollow(?:ing)? the (?:steps|procedure|instructions) (?:in|on|under|above|for|described|to)",  # noqa: E501
    re.IGNORECASE,
)
_FIGURE = re.compile(
    r"\b(?:see|refer to)\s+(?:the\s+)?(?:fig|image|picture|photo|illustration|diagram|table)",
    re.IGNORECASE,
)
_FOLLOW = re.compile(
    r"^\W*(?:(?:before (?:this|that|you (?:begin|start|go on))|first|then)\b,?\s+)?(?:please\s+)?(?:follow|perform|complete|carry out|do|execute|go through|repeat|use|refer to|see|work through|run through|finish)\b(?P<rest>.*)",  # noqa: E501
    re.IGNORECASE,
)
_MUST = re.compile(
    r"\b(?:must|should|has to|have to|needs? to)\s+(?:first\s+|already\s+)?(?:be|have been)\s+(?:first\s+|already\s+)?(?P<verb>[a-z-]+(?:\s(?:off|out|down|away|aside))?)",  # noqa: E501
    re.IGNORECASE,
)
_BEFORE = re.compile(
    r"^\W*(?:before|prior to)\s+(?:you\s+(?:can\s+)?|we\s+(?:can\s+)?)?(?:\w+ly\s+)?(?:remov|install|replac|begin|start|disassembl|work|open|attempt|access|proceed|detach|disconnect|do|servic|get|tak|any|exchang|pull|perform|carry|touch|unplug|handl)\w*",  # noqa: E501
    re.IGNORECASE,
)
_TAIL_BEFORE = re.compile(
    r"\b(?:before (?:you begin|you start|starting|beginning|proceeding|continuing|you proceed|doing (?:this|anything)|removing the|attempting|working|servicing|opening|disassembl|performing|carrying|this procedure|any|replacing|installing|removal|you remove|you can|you (?:touch|open|handle|go near|reach)|touching|handling|you put your hands)|first$|beforehand|prior to (?:removing|removal|starting|this|any|opening|replac|install|work|servic))",  # noqa: E501
    re.IGNORECASE,
)
_REQUIRES = re.compile(
    r"\b(?:requires?|assumes?|presupposes?|needs)\s+(?:that\s+)?(?P<rest>.+)", re.IGNORECASE
)
_WITH_OFF = re.compile(
    r"^\W*(?:with|once|after|when|now that)\s+(?:the\s+|your\s+)?(?P<part>(?!you\b|we\b)(?:(?!in\b|of\b|at\b|on\b|is\b|are\b|has\b|have\b)[\w/-]+\s+){1,4}?)(?:is\s+|are\s+|has been\s+|have been\s+)?(?:now\s+|already\s+)?(?:removed|off|out|gone|detached|lifted (?:off|out|away)|taken (?:off|out|away)|out of the way|out of the chassis)\b",  # noqa: E501
    re.IGNORECASE,
)
_OUT_OF_IT = r"(?:removed|off|out of the way|out|detached|open|taken (?:off|out)|lifted (?:off|out|away)|gone)"
_NEEDED_OFF = re.compile(
    rf"^\W*(?:(?:for this(?: one| job| step)?,?\s+)?(?:you(?:'ll|'d| will| would| must)?|we(?:'ll)?|this(?: step| job| one)?)\s+(?:also\s+)?(?:needs?|have|has|want|wants|requires?)(?:\s+to\s+(?:have|get))?)\s+(?P<parts>(?:the|your|both)\s+[^.;:]{{2,70}}?)\s+{_OUT_OF_IT}\b",  # noqa: E501
    re.IGNORECASE,
)
"""As in "You need the knobs and the base off for this one"."""
_IN_THIS_ORDER = re.compile(
    r"^\W*(?:first,? )?(?:you(?:'ll|'d| will| would)?|we(?:'ll)?)?\s*(?:(?:must|need to|have to|should)\s+)?(?:first\s+)?(?:take (?:out|off)|remove|detach)\b,?[^:]{0,40}\b(?:order|first|parts|following)\b[^:]{0,20}:\s*(?P<parts>.+)$",  # noqa: E501
    re.IGNORECASE,
)
_BARE_OFF = re.compile(
    rf"^\W*(?P<parts>(?!with\b|once\b|after\b|when\b|and\b)[A-Za-z][\w /-]{{1,40}}?)\s+(?:is\s+|are\s+|has been\s+|has\s+|have been\s+)?(?:already\s+)?{_OUT_OF_IT}(?:,? (?:as above|first|as before|already|see .*|\(.*\)))\W*$",  # noqa: E501
    re.IGNORECASE,
)
"""As in "Cover off, as above."."""
_WITH_BOTH_OFF = re.compile(
    rf"^\W*(?:with|once|after|when|now that)\s+(?P<part>(?:the|your|both)\s+[\w/ -]{{2,40}}?\s+(?:(?:is|are)\s+)?{_OUT_OF_IT}\s+and\s+(?:the\s+)?[\w/ -]{{2,40}}?)\s+(?:(?:is|are)\s+)?{_OUT_OF_IT}\b",  # noqa: E501
    re.IGNORECASE,
)
_AFTER_REMOVING = re.compile(
    r"^\W*(?:after|having|once|when|now that|as soon as)\s+(?:you(?:'ve| have|'re done)?\s+|we(?:'ve| have|'re done)?\s+|i(?:'ve| have)?\s+)?"  # noqa: E501
    r"(?:removing|removed|remove|taking (?:off|out)|taken (?:off|out)|take (?:off|out)|detaching|detached|pulled (?:off|out)|got(?:ten)? (?:off|out)|opening up)\s+(?P<rest>.+)",  # noqa: E501
    re.IGNORECASE,
)
_SURE = re.compile(
    r"^\W*(?:make sure|ensure|confirm|verify|check|be sure)\s+(?:that\s+)?(?P<rest>.+)",
    re.IGNORECASE,
)
_DONE = re.compile(
    r"\b(?:is|are|has been|have been|was|were)\s+(?:\w+ly\s+|already\s+)?(?:removed|off|out|taken (?:off|out)|detached|open)\b",  # noqa: E501
    re.IGNORECASE,
)
_ALREADY = re.compile(
    r"^\W*if (?:you have(?:n't| not)|not|it (?:is|has) not|you did not|this (?:is|has) not|they have not|that has not)\b.{0,30}?\b(?:already|yet|so)\b[^,]*,\s*(?P<rest>.+)",  # noqa: E501
    re.IGNORECASE,
)


_SURE_WORDS = re.compile(
    r"^\W*(?:please\s+)?(?:make sure|ensure|confirm|verify|check|be sure|make certain|see to it)\s+(?:that\s+)?",
    re.IGNORECASE,
)
_BUT_YOU_DO = re.compile(
    r"^.*\bnot\b.*\bbut (?:you )?(?:do |still |also )*(?:have to|need to|must|should)\s+",
    re.IGNORECASE,
)
"""As in "You need not take anything out, but you do have to drain the boiler first"."""
_AND_CLAUSE = re.compile(
    r"\s*(?:;|,?\s+and)\s+(?=(?:that\s+)?(?:(?:nothing|everything|the|all|any|no|both)\b.*\b(?:is|are)\b|\w+ it\b))",
    re.IGNORECASE,
)


def single_states(text: str) -> list[str]:
    """As in "Make sure that the power is off and nothing is plugged in": two states, without the reminder."""
    bare = _SURE_WORDS.sub("", _BUT_YOU_DO.sub("", text.strip())).strip(" .,;:")
    bare = re.sub(r"^(?:then|also|next|now|first),?\s+(?=\w)", "", bare, flags=re.IGNORECASE)
    pieces = [piece.strip(" .,;:") for piece in _AND_CLAUSE.split(bare)]
    own = [
        re.sub(r"^that\s+(?=it\b)", "", piece)
        for k, piece in enumerate(pieces)
        if piece
        and not (
            k
            and re.search(r"\bit\b(?!\s+(?:is|has been)\b)", piece)
            and not re.match(r"(?:that )?(?:nothing|everything|no|all)\b", piece, re.IGNORECASE)
        )
    ]
    return own or [bare]


def is_check(sentence: str, row: Required, lexicon: Lexicon) -> bool:
    """As in "Make sure that the valve is closed" as a step of the way back: a check amid the work."""
    sure = _SURE_WORDS.match(sentence) is not None
    return sure and row.kind == "state" and not is_state(row.text, lexicon)


def named_in_title(text: str, lexicon: Lexicon) -> list[Required]:
    """As in "Battery (rear cover removed)", "Fan – cover off": what a title says must be off."""
    match = _TITLE_OFF.search(text)
    if match is None:
        return []
    return [
        Required("part", thing.name)
        for piece in re.split(r"\s*(?:,|&|\+|\band\b)\s*", match["parts"])
        for thing in things_of(re.sub(r"\b(?:with|after|requires?|first)\b:?", "", piece), lexicon)
        if not thing.is_pronoun
    ]


_TITLE_OFF = re.compile(
    r"\((?P<parts>[^()]{3,60}?)\s+(?:is |are |already |must be )*(?:removed|off|out|taken off|detached|first)(?: first)?\)\s*$",  # noqa: E501
    re.IGNORECASE,
)


def of_sentence(
    text: str, after: str, lexicon: Lexicon, *, first: bool, ahead: bool
) -> list[Required]:
    """Prerequisites that a sentence in the running text states.

    Args:
        text: The sentence.
        after: The rest of its block (a "See …" may follow in a sentence of its own).
        lexicon: Word lists.
        first: No step of the procedure has been read yet.
        ahead: The sentence stands before the numbered steps.
    """
    found = _of_sentence(text, after, lexicon, first=first, ahead=ahead)
    return [
        _dark(row, text) for row in found if not _is_detail(row, lexicon) and not _ends_in_verb(row)
    ]


_MOVES = frozenset(
    [
        "takes",
        "comes",
        "lifts",
        "pulls",
        "goes",
        "take",
        "come",
        "lift",
        "pull",
        "pry",
        "prise",
        "draw",
    ]
)


def _ends_in_verb(row: Required) -> bool:
    """As in "Battery takes out", translated: a step, not a part of the name "battery takes"."""
    last = row.text.lower().split()[-1:]
    return row.kind == "part" and bool(last) and last[0] in _MOVES


def _dark(row: Required, text: str) -> Required:
    """As in "the LED must be off": dark, not taken off."""
    lit = row.kind == "part" and row.text.lower().split()[-1:] in _LIGHTS
    off = _IS_OFF.search(text) if lit else None
    way = "out" if off and re.search(r"\b(?:out|gone)\b", off.group()) else "off"
    return Required("state", f"the {row.text} is {way}") if off else row


def _is_detail(row: Required, lexicon: Lexicon) -> bool:
    """As in "make sure that both ejectors are open": a latch is part of the work, not asked for before it."""
    thing = re.sub(r"\s+of\s+.*$", "", row.text.lower())
    words = re.sub(r"^(?:the|both|all|its)\s+|\s+(?:is|are)\b", "", thing).split()
    named = words[:-1] if row.kind == "state" and " of " not in row.text else words
    return bool(named) and lexicon.category(tuple(named)) in ("lock", "clip")


_BARE_REMOVAL = re.compile(
    r"^\W*(?:the\s+)?(?P<part>[A-Za-z][\w/& -]{2,40}?)\s+(?:removal|disassembly)\W*$", re.IGNORECASE
)
"""As in "▶ Bottom cover removal" before the first step: the procedure that comes before this one."""


def _of_sentence(
    text: str, after: str, lexicon: Lexicon, *, first: bool, ahead: bool
) -> list[Required]:
    again = _ALREADY.match(text)
    if again and first:
        safe = made_safe(again["rest"])
        return [Required("state", act) for act in safe] or _orders(again["rest"], lexicon)
    bare = _BARE_REMOVAL.match(text) if first else None
    if bare:
        return [Required("part", clean(bare["part"]))]
    found = _safe_and_referred(text, lexicon) if first else []
    if found:
        return found
    for rule in (_by_reference, _by_follow):
        found = rule(text, after, lexicon)
        if found:
            return found
    found = _by_before(text, lexicon, ahead=ahead, first=first)
    if found:
        return found
    if not first or _told_how(text, lexicon):
        return []
    safe = made_safe(text) if ahead else []
    if safe:
        return [Required("state", act) for act in safe]
    named_off = off_named(text) if ahead else ""
    if named_off:
        whole = len(named_off) >= len(text.strip(" .!")) - 2
        return [Required("state", named_off, also_step=not whole)]
    off = powered_off_first(text) if ahead else ""
    if off:
        return [Required("state", off, also_step=True)]
    if ahead and STATE_ALONE.match(text) and not _FINITE.search(text):
        return [Required("state", text.strip(" ."))]
    not_before = _NOT_BEFORE.match(text) if ahead else None
    if not_before and told_before(text) is None:
        return [Required("state", not_before["state"].strip(" ."))]
    formed = _merged(_by_state_of_things(text, lexicon), _by_form(text, lexicon))
    return _by_label(text, lexicon) or _merged(formed, by_sense(text, after, lexicon))


_NOT_BEFORE = re.compile(
    r"^\W*(?:do not|don't|never) (?:start|begin|proceed|continue|go on|open)\b[^.;]*?\b(?:before|until|unless)\s+(?P<state>(?:the|all|both|your)\s+(?!.*\b(?:back|in place|refitted|replaced|installed|fitted)\b)[^.;]*\b(?:is|are|has|have|reads?|shows?)\b[^.;]*)",  # noqa: E501
    re.IGNORECASE,
)
"""As in "Do not start before the pressure gauge reads zero."."""
_FINITE = re.compile(r"\b(?:is|are|was|has|have|had|been|be|that|it|you|we)\b", re.IGNORECASE)


def _safe_and_referred(text: str, lexicon: Lexicon) -> list[Required]:
    """As in "Power off, pull out the plug and dismount the cover according to 2.1.": states, and a part told elsewhere."""  # noqa: E501
    acts = re.split(
        r",\s*(?:and\s+|then\s+)?|\s+and\s+(?=(?:then )?\w+\s+(?:off |out )?the\b)",
        text.strip(" ."),
    )
    if len(acts) < 2 or not _REFERENCE.search(text):
        return []
    rows: list[Required] = []
    for act in acts:
        bare = re.sub(
            r"^\W*(?:please|first|then)\b\s*(?:first\b\s*)?", "", act, flags=re.IGNORECASE
        )
        states = [Required("state", state) for state in made_safe(bare, begun=bool(rows))]
        asked = states or _by_reference(bare, "", lexicon)
        if not asked:
            return []
        rows += asked
    return rows


def _told_how(text: str, lexicon: Lexicon) -> bool:
    """As in "The hose must come off first: undo its clip and …": work that this procedure tells itself."""
    _, colon, rest = text.partition(":")
    tokens = tokenise(rest, lexicon) if colon and _MUST_GO.search(text) else []
    return bool(tokens) and Phrases(tokens, lexicon).is_command(0)


_MUST_GO = re.compile(
    r"\b(?:must|has to|have to|needs? to)\s+(?:come|be|go)\b[^:]*:\s*\w", re.IGNORECASE
)


def _by_label(text: str, lexicon: Lexicon) -> list[Required]:
    """As in "Needed beforehand: front panel, core.", "Preliminary: cover and panel removed"."""
    rest = rest_of_label(text)
    if rest is None:
        return []
    rest = re.sub(r"\s*\((?:see link|[\d.,; and-]+)\)", "", rest)
    pieces = re.split(r"[;,]|\band\b", rest)
    asked = [piece.strip() for piece in pieces if not asks_nothing(piece)]
    return [required for piece in asked for required in listed(piece, lexicon)]


def _merged(one: list[Required], two: list[Required]) -> list[Required]:
    """Both, each prerequisite once."""
    known = {(item.kind, item.text.lower()) for item in one}
    told = " ".join(item.text.lower() for item in one if item.kind == "state")
    return [
        *one,
        *(
            item
            for item in two
            if (item.kind, item.text.lower()) not in known
            and not (told and (item.kind == "state" or item.text.lower() in told))
        ),
    ]


def _by_form(text: str, lexicon: Lexicon) -> list[Required]:
    """As in "The fan has to come out before you get at this", "assuming the cover is already off"."""
    pieces = re.split(r",?\s+and that\s+", re.sub(r"\s*\([^)]*\)", "", text))
    if len(pieces) > 1:
        return [
            row
            for k, piece in enumerate(pieces)
            for row in _by_form(piece if not k else f"it is assumed that {piece}", lexicon)
        ]
    main, done = and_done(pieces[0])
    told = told_before(main)
    if told is None:
        return []
    if done:
        return [*_by_form(main, lexicon), Required("state", done)]
    parts, state = told
    rows = re.split(r"\s+(?:and\s+)?(?=the\b)", parts)
    gone = [row for row in rows if state and _GONE.search(row)]
    rows = [row for row in rows if row not in gone]
    off = [Required("part", t.name) for row in gone for t in things_of(_GONE.sub("", row), lexicon)]
    things = [thing for row in rows for thing in things_of(row, lexicon) if not thing.is_pronoun]
    pulled = state.lower() in ("drawn", "pulled", "withdrawn")
    if state and (not pulled or all(t.category in _PULLED for t in things)):
        ways = [f"is {state}", posture(text)]
        along = bool(_CIRCUMSTANCE.match(text))
        return off + [
            Required("state", f"the {thing.name} {way}", also_step=along)
            for thing in things
            for way in ways
            if way
        ]
    return [
        Required("part", thing.name)
        for thing in things
        if thing.category
        not in ("fastener", "lock", "clip", "place", "device", "cable", "connector")
    ]


_GONE = re.compile(rf"\s+(?:is |are )?{OUT}(?:\s+and)?\W*$", re.IGNORECASE)
_PULLED = frozenset(["cable", "connector", "power"])
"""What is drawn or pulled as a state of the machine; a panel that is withdrawn is off."""
_CIRCUMSTANCE = re.compile(r"^\W*(?:with|once|after|when|now that)\b", re.IGNORECASE)


_GOAL_FIRST = re.compile(
    r"^\W*(?:(?:in order )?to (?:get (?:at|to)|reach|access|remove|replace)\b[^,]{3,50},\s*)?"
    r"(?:(?:you|we) (?:(?:will |first )*(?:must|need to|have to)|should)\s+(?:first\s+)?|first\s+)",
    re.IGNORECASE,
)
"""As in "To get to the fan, you must" … "take off the lid (chapter 2)"."""


_SO = re.compile(
    r"^\W*(?:gain|get|obtain) access to [^,;:]{3,50} by\s+|^[^,;:]{5,90},\s+so\s+(?:(?:you|we) (?:must|need to|have to|should)\s+)?(?:first\s+)?(?=\w+)",  # noqa: E501
    re.IGNORECASE,
)
"""As in "The pump sits behind the tray, so" … "take the tray out first (see above)"."""
_DOUBLE = re.compile(rf"^\W*(?:\w+ and )(?={OFF})", re.IGNORECASE)
"""As in "Open and" … "remove the rear door (see page 14)"."""
_SEE_ABOVE = re.compile(
    r"\bfirst\b\W*(?:\((?:see|as)\s+[^)]*\b(?:above|earlier|before)\)|,?\s*(?:as|see)\s+(?:\w+\s+)?(?:above|earlier|before))",
    re.IGNORECASE,
)


def _by_reference(text: str, after: str, lexicon: Lexicon) -> list[Required]:
    """As in "Remove the X. See …", "Remove the X (page 12)", "Remove X as described in …"."""
    text = together(_DOUBLE.sub("", _SO.sub("", _GOAL_FIRST.sub("", text))))
    head = re.match(
        rf"^\W*(?:first[,:]?\s+|then,?\s+|next,?\s+)?(?P<verb>{OFF}|disconnect|unplug|power off|turn off|shut down|drain)\b",  # noqa: E501
        text,
        re.IGNORECASE,
    )
    if not head or (_FIGURE.search(text) and not re.search(r"\b(?:page|section|p\.)\s*\d", text)):
        return []
    follow = re.match(
        r"^\W*(?:p+\.\s*\d|page \d|see|refer to|for (?:more|instructions|details|the procedure)|follow)\b(?!\s+(?:the\s+)?(?:fig|image|picture|photo|above|below))",  # noqa: E501
        after,
        re.IGNORECASE,
    )
    if not _REFERENCE.search(text) and not follow and not _SEE_ABOVE.search(text):
        return []
    verb = head["verb"].lower()
    if re.match(r"power|turn|shut|drain", verb):
        return [Required("state", strip_reference(text))]
    objects = objects_after(
        strip_reference(text),
        rf"^\W*(?:first[,:]?\s+|then,?\s+|next,?\s+)?{re.escape(verb)}\b",
        lexicon,
    )
    kind: Kind = "state" if verb in ("disconnect", "unplug") else "part"
    return [Required(kind, f"{verb} {name}" if kind == "state" else name) for name in objects]


def _by_follow(text: str, _after: str, lexicon: Lexicon) -> list[Required]:
    """As in "Follow the steps above to remove X", "Perform the X removal procedure", "Do steps 1 to 4 of Removing the X"."""  # noqa: E501
    match = _FOLLOW.match(text)
    if not match:
        return []
    rest = match["rest"]
    if not re.search(
        r"\b(?:steps?|procedures?|instructions?|removal|disassembly|section|removing|guide|above|process)\b",
        rest,
        re.IGNORECASE,
    ) or re.search(r"\b(?:reverse|below|these|following)\b", rest, re.IGNORECASE):
        return []
    objects = objects_after(
        rest, rf"\b{OFF}\b(?!\s+(?:procedure|steps|instructions|process|section))", lexicon
    )
    if objects:
        return [Required("part", name) for name in objects]
    turned = objects_after(rest, r"\b(?:removal|disassembly|opening) of\b", lexicon)
    if turned:
        return [Required("part", name) for name in turned]
    noun = NOUN_REMOVAL.search(rest)
    if noun and noun["part"].lower().strip() not in ("the", "a", "its", "their"):
        name = re.sub(
            r"^.*\b(?:steps?|in|of|for|the)\s+(?:the\s+)?", "", noun["part"], flags=re.IGNORECASE
        )
        return [Required("part", clean(name))] if clean(name) else []
    return []


_HEEDED = re.compile(
    r"^\W*(?:please )?(?:pay )?attention\W+|^\W*(?:note|important)\W+", re.IGNORECASE
)


def _behind_gerund(text: str) -> str:
    """As in "before disassembling | cut power", translated: what stands behind the one word."""
    found = re.match(
        r"^.*?\b(?:before|prior to)\s+(?!\w*thing)\w+ing\s+(?P<main>\w+\b.*)$", text, re.IGNORECASE
    )
    return found["main"] if found else ""


def _by_before(text: str, lexicon: Lexicon, *, ahead: bool, first: bool) -> list[Required]:
    """As in "Before removing X, remove Y", "Y must be removed first", "Remove Y before you begin"."""
    must = _MUST.search(text)
    leading = _BEFORE.match(_HEEDED.sub("", text))
    trailing = _TAIL_BEFORE.search(text)
    if leading and (ahead or first):
        comma = text.find(",")
        main = text[comma + 1 :] if comma > 0 else _behind_gerund(text)
        if (
            re.search(
                r"\b(?:follow|complete|do|perform) (?:these|the following|this)\b",
                main,
                re.IGNORECASE,
            )
            or not main
        ):
            return []
        return _orders(main, lexicon)
    if (
        must
        and (trailing or re.search(r"\bfirst\b", text))
        and re.match(OFF, must["verb"], re.IGNORECASE)
    ):
        things = things_of(text[: must.start()], lexicon)
        return [Required("part", thing.name) for thing in things[-3:]]
    if must and ahead and is_state(text, lexicon) and not _KEPT.match(must["verb"]):
        return [Required("state", text.strip())]
    if (
        ahead
        and not leading
        and is_state(text, lexicon)
        and re.search(r"\bfirst\W*$", text, re.IGNORECASE)
    ):
        return _orders(re.sub(r"\s*\bfirst\W*$", "", text, flags=re.IGNORECASE), lexicon)
    if trailing and ahead and not leading:
        head, tail = text[: trailing.start()].strip(" ,"), text[trailing.end() :]
        joined = f"{head}{tail}" if re.match(r"^\s*,?\s*and\s", tail) else head
        rows = _orders(joined, lexicon)
        told = any(row.text in head for row in rows)
        opens = re.match(
            r"^\W*(?:let|allow|charge|park|mark|note|keep|move|set)\b", head, re.IGNORECASE
        )
        return rows if told or not opens else [Required("state", head), *rows]
    first_remove = re.search(
        r"\b(?:must|need to|have to|should)\s+first\s+(?P<rest>.+)|\bfirst\s+(?:need|have)\s+to\s+(?P<rest2>.+)",
        text,
        re.IGNORECASE,
    )
    if first_remove and ahead:
        return _orders(first_remove["rest"] or first_remove["rest2"], lexicon)
    return []


_KEPT = re.compile(
    r"(?:carried|kept|moved|transferred|saved|reused|swapped|ordered|returned)\b", re.IGNORECASE
)
"""As in "The battery has to be carried over": what becomes of a part, no state of the machine."""
_EVERYTHING = re.compile(
    r"(?:^|[,;]|\bwith)\s*(?P<state>(?:everything|all (?:the )?(?:cables|leads|cords|plugs)) (?:is |are )?(?:unplugged|disconnected|switched off|powered off|off))\b(?=\W*(?:of course|first|obviously|$))",  # noqa: E501
    re.IGNORECASE,
)
"""As in "Lay it on its face, everything unplugged of course."."""


def _by_state_of_things(text: str, lexicon: Lexicon) -> list[Required]:
    """As in "With the cover off, …", "Make sure the fan is removed", "This procedure assumes that …"."""
    text = re.sub(r"\s*\(see link\)", "", text)
    all_out = _EVERYTHING.search(text)
    if all_out:
        return [Required("state", all_out["state"], also_step=True)]
    needed = _NEEDED_OFF.match(text) or _BARE_OFF.match(text) or _IN_THIS_ORDER.match(text)
    if needed:
        asked = re.sub(r"\([^)]*\)", "", needed["parts"])
        pieces = re.split(r",|\band\b", asked) if needed.re is _IN_THIS_ORDER else [asked]
        pieces += [as_well(text[needed.end() :])] if needed.re is _NEEDED_OFF else []
        things = [thing for piece in pieces for thing in things_of(piece, lexicon)]
        return [Required("part", thing.name) for thing in things if not thing.is_pronoun]
    off = _WITH_BOTH_OFF.match(text) or _WITH_OFF.match(text)
    if off and not _is_order(off["part"].lower().split(), lexicon):
        things = things_of(
            re.sub(r"\b(?:removed|off|out|lifted|taken|unplugged)\b", "", off["part"]), lexicon
        )
        return [
            Required("part", thing.name, also_step=True)
            for thing in things
            if not thing.is_pronoun
            and thing.category not in ("fastener", "lock", "clip", "cable", "connector", "place")
        ]
    after = _AFTER_REMOVING.match(text)
    if after:
        objects = [
            thing.name
            for thing in things_of(after["rest"], lexicon)
            if not thing.is_pronoun and thing.category not in ("fastener", "text")
        ]
        return [Required("part", name, also_step=True) for name in objects[:2]]
    needs = _REQUIRES.search(text)
    if needs and re.match(r"^\W*(?:this|the|these|removal|it)\b", text, re.IGNORECASE):
        rest = needs["rest"]
        off_already = _DONE.search(rest)
        if off_already is not None:
            return [
                Required("part", thing.name)
                for thing in things_of(rest[: off_already.start()], lexicon)
            ]
        objects = objects_after(rest, r"\b(?:removal|removing) (?:of )?", lexicon)
        return [Required("part", name) for name in objects]
    sure = _SURE.match(text)
    if sure:
        rest = sure["rest"]
        done = _DONE.search(rest)
        if is_state(rest, lexicon):
            return [Required("state", text.strip())]
        if done:
            dark = done.group().lower().endswith(" off")
            return [
                Required("state", f"the {thing.name} is off")
                if dark and thing.category in ("unknown", "device", "power")
                else Required("part", thing.name)
                for thing in things_of(rest[: done.start()], lexicon)
                if not thing.is_pronoun
            ]
    return []


def _is_order(words: list[str], lexicon: Lexicon) -> bool:
    """As in "With a hook take" … "out the seal": a tool and what is done with it, nothing that is off."""
    return (
        bool(words) and bool(lexicon.verb_of(words[-1], "base")) and not lexicon.is_noun(words[-1])
    )


_LIGHTS = (["led"], ["leds"], ["lamp"], ["light"], ["lights"], ["indicator"])
_IS_OFF = re.compile(
    r"\b(?:is|are|be|goes|turns|gone|has gone|have gone|went) (?:off|out|dark)\b", re.IGNORECASE
)


_CLAUSES = re.compile(
    r"(?:,|;|\band\b|\bthen\b)+\s+(?=(?:you (?:must|should) )?(?:\w+ly )?(?:remove|disconnect|unplug|turn|switch|shut|power|discharge|drain|ground|wait|allow|detach|open|take|wear|press|make|ensure|place|close|back)\b)",  # noqa: E501
    re.IGNORECASE,
)
_STATE_VERB = re.compile(
    r"\b(?:disconnect|unplug|turn|switch|discharge|drain|ground|wait|allow|shut|power)\b",
    re.IGNORECASE,
)


def _orders(text: str, lexicon: Lexicon) -> list[Required]:
    """Each order of a sentence: a part that comes off, or a state."""
    found: list[Required] = []
    for clause in map(together, _CLAUSES.split(text)):
        objects = objects_after(clause, rf"\b(?:{OFF})\b", lexicon)
        tied = [name for name in objects if is_tied(name, lexicon)]
        if tied:
            rest = [name for name in objects if name not in tied]
            said = [f"disconnect {name}" for name in tied] if rest else [clause.strip(" .,;:")]
            found += [
                *(Required("state", one) for one in said),
                *(Required("part", one) for one in rest),
            ]
            continue
        parts = [Required("part", name) for name in objects if not is_state(name, lexicon)]
        if parts and not is_state(clause, lexicon):
            found += parts
        elif is_state(clause, lexicon) or _STATE_VERB.search(clause):
            bare = re.sub(
                r"^\W*(?:you (?:must|should|need to)|please|always|first)\s+",
                "",
                clause.strip(),
                flags=re.IGNORECASE,
            )
            found.append(Required("state", bare.strip(" .,;:")))
    return found
