"""What a reader makes of a written or spoken procedure, as values.

All values are frozen and compared by value. Lines are 1-based physical lines of the text that
``--text`` prints. ``None``, ``""`` and ``()`` mean: the text does not say.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Count = int | Literal["all"] | None
Row = dict[str, object]
LineKind = Literal["text", "heading", "item", "table", "caption", "furniture", "blank"]
State = Literal["used", "caution", "heading", "other", "not_understood"]
ProcedureKind = Literal["removal", "refit", "both"]

CLASSES = (
    "apply", "clean", "close", "connect", "disconnect", "insert", "lift", "loosen", "peel",
    "release", "remove", "replace", "route", "slide", "tighten", "other",
)  # fmt: skip
OPENING_CLASSES = frozenset({"disconnect", "lift", "loosen", "peel", "release", "remove"})
CLOSING_CLASSES = frozenset({"apply", "close", "connect", "insert", "replace", "tighten"})


@dataclass(frozen=True, slots=True)
class Line:
    """One physical line of the extracted text.

    Attributes:
        number: 1-based.
        text: As it stands, without its line end; markup already taken away.
        kind: Hint from the format: a Markdown ``#`` or a DOCX heading style is ``heading``, a cell row
            is ``table``, a repeated page header ``furniture``.
        level: Heading level (1 is highest), 0 where unknown.
        mark: List mark that the format gave apart from the text, such as ``1.`` or ``-``.
        time_s: Start of a caption in seconds, None outside transcripts.
        reason: Why a line of furniture is left out.
    """

    number: int
    text: str
    kind: LineKind = "text"
    level: int = 0
    mark: str = ""
    time_s: float | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Source:
    """An extracted text: its lines, what it was and what was repaired on the way.

    ``recited``: captions of a text that was written before it was spoken; it is read like one that is written.
    """

    name: str
    format: str
    lines: tuple[Line, ...]
    spoken: bool = False
    repairs: tuple[str, ...] = ()
    recited: bool = False

    def text(self) -> str:
        """The lines as ``--text`` prints them."""
        return "\n".join(line.text for line in self.lines) + "\n"


@dataclass(frozen=True, slots=True)
class Thing:
    """A noun phrase: what it names and what is said about it.

    Attributes:
        name: Words of the phrase without article, count and size, lower case but for its own spelling.
        head: Head noun, singular, lower case.
        category: Category of the head in ``nouns.toml``, ``unknown`` where it is not in the lexicon,
            ``pronoun`` for "it" and its like.
        count: Number that is said, ``all``, or None.
        plural: The head is plural.
        article: ``the``, ``a``, ``this`` … or ``""``.
        size: Screw size such as ``M2.5x4``.
        drive: Name of a drive.
        of: What follows "of": the whole.
    """

    name: str
    head: str
    category: str
    count: Count = None
    plural: bool = False
    article: str = ""
    size: str = ""
    drive: str = ""
    head_form: str = ""
    colour: str = ""
    captive: bool = False
    optional: bool = False
    of: str = ""
    label: str = ""

    @property
    def is_pronoun(self) -> bool:
        """True for "it", "them" and their like."""
        return self.category == "pronoun"


@dataclass(frozen=True, slots=True)
class Action:
    """One thing that is to be done.

    Attributes:
        klass: One of :data:`CLASSES`.
        verb: The verb as said, with its particle (``pull out``).
        object: What it is done to, in words.
        things: The same as noun phrases; several where the text names several at once.
        count: How many; an inferred count is named in ``inferred``.
        fastener: Kind of fastener (``screw``, ``nut`` …) where the object is one.
        joins: Names of the parts that the object holds together.
        line: Line of the verb.
        spot: Place in the text for distances, as of :class:`Fact`; 0 stands for the line.
        optional: The text says "if fitted" or the like.
        order: ``numbered`` or ``crosswise`` where the text asks for an order.
        condition: A condition that the text sets ("if you are replacing the battery").
        weak: Why this may only restate another action (``passive``, ``reminder``, ``before``,
            ``purpose``), or empty.
        inferred: Keys whose value the sentence does not give, with where it came from.
        owner: What a latch or plug that is named by one word seems to belong to.
    """

    klass: str
    verb: str
    object: str
    things: tuple[Thing, ...] = ()
    count: Count = None
    fastener: str = ""
    size: str = ""
    drive: str = ""
    head_form: str = ""
    colour: str = ""
    captive: bool = False
    joins: tuple[str, ...] = ()
    from_: str = ""
    to: str = ""
    optional: bool = False
    order: str = ""
    tool: str = ""
    torque: str = ""
    line: int = 0
    spot: int = 0
    condition: str = ""
    weak: str = ""
    new: bool = False
    inferred: tuple[tuple[str, str], ...] = ()
    supply: str = ""
    owner: str = ""

    def as_json(self) -> Row:
        """The shape of ``--json``; keys without a value are left out."""
        row: Row = {
            "class": self.klass,
            "object": self.object,
            "count": self.count,
            "fastener": self.fastener,
            "size": self.size,
            "drive": self.drive,
            "joins": list(self.joins),
            "from": self.from_,
            "to": self.to,
            "optional": self.optional,
            "order": self.order,
            "tool": self.tool,
            "torque": self.torque,
            "verb": self.verb,
            "condition": self.condition,
        }
        return {key: value for key, value in row.items() if value not in (None, "", [], False)}


@dataclass(frozen=True, slots=True)
class Step:
    """The actions of one step and the cautions that concern it.

    ``reverse_of`` is the index of the procedure that this step says to do backwards, or -1.
    """

    line: int
    actions: tuple[Action, ...]
    cautions: tuple[Caution, ...] = ()
    text: str = ""
    reverse_of: int = -1
    mark: str = ""

    def as_json(self) -> dict[str, object]:
        """The shape of ``--json``."""
        return {"line": self.line, "actions": [action.as_json() for action in self.actions]}


@dataclass(frozen=True, slots=True)
class Caution:
    """A caution or note with its signal word (``note`` is no signal word of the standard)."""

    signal: str
    text: str
    line: int


@dataclass(frozen=True, slots=True)
class Prerequisite:
    """What must be done before: a part that is off, or a state.

    ``inferred`` says why, where the text does not state it.
    """

    kind: Literal["part", "state"]
    text: str
    line: int
    inferred: str = ""

    def as_json(self) -> dict[str, object]:
        """The shape of ``--json``."""
        row: dict[str, object] = {"kind": self.kind, "text": self.text, "line": self.line}
        if self.inferred:
            row["inferred"] = self.inferred
        return row


@dataclass(frozen=True, slots=True)
class Procedure:
    """One half, or both, of the work on one part."""

    part: str
    kind: ProcedureKind
    line: int
    heading: str
    steps: tuple[Step, ...]
    prerequisites: tuple[Prerequisite, ...] = ()
    tools: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()

    def actions(self) -> tuple[Action, ...]:
        """All actions in order."""
        return tuple(action for step in self.steps for action in step.actions)

    def as_json(self) -> dict[str, object]:
        """The shape of ``--json``."""
        return {
            "part": self.part,
            "kind": self.kind,
            "line": self.line,
            "prerequisites": [item.as_json() for item in self.prerequisites],
            "steps": [step.as_json() for step in self.steps],
        }


@dataclass(frozen=True, slots=True)
class Fact:
    """Something that the text states rather than orders: what holds what, how many there are."""

    joins: tuple[str, ...]
    things: tuple[Thing, ...]
    line: int
    kind: str = "holds"
    spot: int = 0
    """Place in the text for distances, where it is not the line: a paragraph on one line counts by sentences."""


@dataclass(frozen=True, slots=True)
class LineState:
    """What was made of one line, and why."""

    line: int
    state: State
    reason: str = ""

    def as_json(self) -> dict[str, object]:
        """The shape of ``--json``."""
        row: dict[str, object] = {"line": self.line, "state": self.state}
        if self.reason:
            row["reason"] = self.reason
        return row


@dataclass(frozen=True, slots=True)
class Finding:
    """Something about the text that a person should look at."""

    code: str
    severity: Literal["error", "warning", "note"]
    line: int
    text: str
    remedy: str = ""

    def as_json(self) -> dict[str, object]:
        """The shape of ``--json``."""
        return {
            "code": self.code,
            "severity": self.severity,
            "line": self.line,
            "text": self.text,
            "remedy": self.remedy,
        }


@dataclass(frozen=True, slots=True)
class Question:
    """Something that the text leaves open. ``weight``: how much hangs on the answer."""

    id: str
    text: str
    line: int = 0
    assumed: str = ""
    weight: int = 0

    def as_json(self) -> dict[str, object]:
        """The shape of ``--json``."""
        row = {"id": self.id, "text": self.text, "line": self.line, "assumed": self.assumed}
        return {key: value for key, value in row.items() if value not in ("", 0)}


@dataclass(frozen=True, slots=True)
class Reading:
    """All that was made of one text."""

    source: Source
    procedures: tuple[Procedure, ...]
    lines: tuple[LineState, ...]
    facts: tuple[Fact, ...] = ()
    findings: tuple[Finding, ...] = ()
    questions: tuple[Question, ...] = ()
    tools: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    title: str = ""
    merges: tuple[tuple[str, str, str], ...] = field(default=())

    def as_json(self) -> dict[str, object]:
        """The shape of ``--json``."""
        return {
            "procedures": [procedure.as_json() for procedure in self.procedures],
            "lines": [line.as_json() for line in self.lines],
            "findings": [finding.as_json() for finding in self.findings],
            "questions": [question.as_json() for question in self.questions],
        }
