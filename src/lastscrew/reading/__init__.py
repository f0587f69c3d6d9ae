"""Reading written and spoken service procedures: a text in, procedures and a device draft out."""

from lastscrew.reading.lexicon import Lexicon, load_lexicon
from lastscrew.reading.model import (
    Action,
    Caution,
    Finding,
    Line,
    LineState,
    Prerequisite,
    Procedure,
    Question,
    Reading,
    Source,
    Step,
    Thing,
)
from lastscrew.reading.reader import read

__all__ = [
    "Action",
    "Caution",
    "Finding",
    "Lexicon",
    "Line",
    "LineState",
    "Prerequisite",
    "Procedure",
    "Question",
    "Reading",
    "Source",
    "Step",
    "Thing",
    "load_lexicon",
    "read",
]
