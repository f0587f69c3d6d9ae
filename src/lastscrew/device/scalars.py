"""Scalars of YAML 1.2 (core schema): which type a plain one has, and its exact number."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Final, Literal

from lastscrew.device.nodes import Node

MAX_NUMBER_LENGTH: Final = 40
"""Longest number that is read, in characters; longer ones are out of every range."""

MAX_EXPONENT_LENGTH: Final = 5

_NULL = frozenset(("", "~", "null", "Null", "NULL"))
_TRUE = frozenset(("true", "True", "TRUE"))
_FALSE = frozenset(("false", "False", "FALSE"))
_OLD_FLAGS = frozenset(["y", "n", "yes", "no", "on", "off"])
_NUMBER = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?")
_BASED = re.compile(r"0o[0-7]+|0x[0-9a-fA-F]+")
_NOT_FINITE = re.compile(r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)")

Kind = Literal["null", "flag", "number", "not_finite", "text"]


def kind_of(node: Node) -> Kind:
    """Type of a scalar by the core schema; quoted ones are text."""
    text = node.text
    if not node.plain:
        return "text"
    if text in _NULL:
        return "null"
    if text in _TRUE or text in _FALSE:
        return "flag"
    first = text[0]
    if first in "0123456789.+-":
        if _NUMBER.fullmatch(text) or _BASED.fullmatch(text):
            return "number"
        if _NOT_FINITE.fullmatch(text):
            return "not_finite"
    return "text"


def looks_like_old_flag(text: str) -> bool:
    """True for words that YAML 1.1 took for true and false."""
    return text.lower() in _OLD_FLAGS


def flag(node: Node) -> bool:
    """Value of a scalar of kind ``flag``."""
    return node.text in _TRUE


def number(node: Node) -> Decimal | None:
    """Exact value of a scalar of kind ``number``; None where it is too long to be one of ours."""
    text = node.text
    if len(text) > MAX_NUMBER_LENGTH:
        return None
    if _BASED.fullmatch(text):
        return Decimal(int(text, 0))
    exponent = text.lower().partition("e")[2]
    if len(exponent) > MAX_EXPONENT_LENGTH:
        return None
    value = Decimal(text)
    return value or Decimal(0)


def has_leading_zero(text: str) -> bool:
    """True for numbers such as ``010``, which old readers took for octal."""
    digits = text.lstrip("+-")
    return len(digits) > 1 and digits[0] == "0" and digits.isdigit()
