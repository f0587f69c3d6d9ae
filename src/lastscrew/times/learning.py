"""Learning curves: how the time of like units falls from one to the next.

Each doubling of the number of units brings the time down to the same share, the *rate* (0.85: by 15 %).
Crawford applies it to the time of the unit itself, Wright to the average of all units so far.
T. P. Wright, "Factors affecting the cost of airplanes", J. Aeronautical Sciences 3 (1936); the
unit curve is named after J. R. Crawford (Lockheed, 1940s). Formulas and examples as given by the
R package *learningCurve* 1.1.2.
"""

from __future__ import annotations

import math

DEFAULT_RATE = 0.85
"""Usual for work that is mostly by hand (common practice, no source)."""

MOST_UNITS = 1_000_000
"""No batch is larger: sums run over each unit."""


_NEARLY = 1e-7


def slope(rate: float) -> float:
    """Exponent of the curve, log2 of the rate: 0 for no learning, negative for learning.

    Raises:
        ValueError: If the rate is not above 0 and at most 1.
    """
    if not 0 < rate <= 1:
        raise ValueError(f"a learning rate is above 0 and at most 1, not {rate}")
    return math.log2(rate)


def crawford_unit(time: float, unit: float, rate: float, known_unit: float = 1) -> float:
    """Time of one unit when ``known_unit`` takes ``time`` (any unit of time)."""
    return time * math.pow(unit / known_unit, slope(rate))


def crawford_cumulative(time: float, first: int, last: int, rate: float) -> float:
    """Time of units ``first`` to ``last`` together, unit 1 taking ``time`` (exact sum).

    Raises:
        ValueError: If the units are not 1 <= first <= last <= MOST_UNITS.
    """
    _check_units(first, last)
    exponent = slope(rate)
    return time * math.fsum(math.pow(unit, exponent) for unit in range(first, last + 1))


def wright_cumulative(time: float, units: float, rate: float) -> float:
    """Time of units 1 to ``units`` together, when the first takes ``time`` and the average falls."""
    return time * math.pow(units, 1 + slope(rate))


def wright_block(time: float, first: int, last: int, rate: float) -> float:
    """Time of units ``first`` to ``last`` together under Wright's curve."""
    _check_units(first, last)
    return wright_cumulative(time, last, rate) - wright_cumulative(time, first - 1, rate)


def wright_unit(time: float, unit: int, rate: float) -> float:
    """Time of one unit under Wright's curve: what it adds to the cumulative time."""
    return wright_block(time, unit, unit, rate)


def wright_rate(time: float, units: int, total: float) -> float:
    """The rate under which ``units`` units took ``total``, the first of them ``time`` (Wright).

    Raises:
        ValueError: If it can't be told: fewer than 2 units or times that are not above 0.
    """
    if units < 2 or time <= 0 or total <= 0:
        raise ValueError("a rate needs at least 2 units and times above 0")
    return math.pow(2, math.log(total / (time * units)) / math.log(units))


def crawford_rate(time: float, unit: int, unit_time: float) -> float:
    """The rate under which unit 1 took ``time`` and unit ``unit`` took ``unit_time`` (Crawford).

    Raises:
        ValueError: If it can't be told: unit 1 itself or times that are not above 0.
    """
    if unit < 2 or time <= 0 or unit_time <= 0:
        raise ValueError("a rate needs a later unit than the first and times above 0")
    return math.pow(2, math.log(unit_time / time) / math.log(unit))


def midpoint(first: int, last: int, rate: float) -> float:
    """The (fractional) unit whose time is the average of units ``first`` to ``last``, nearly.

    The usual closed form, with the sum replaced by the integral from half a unit before to half
    a unit after. Where the exponent is nearly 0 (no learning) or -1 its limits are taken.
    """
    _check_units(first, last)
    exponent = slope(rate)
    low, high, units = first - 0.5, last + 0.5, last - first + 1
    if abs(exponent) < _NEARLY:
        mean_log = (high * math.log(high) - low * math.log(low)) / units - 1
        return math.exp(mean_log)
    power = 1 + exponent
    if abs(power) < _NEARLY:
        mean = math.log(high / low) / units
    else:
        mean = (math.pow(high, power) - math.pow(low, power)) / (power * units)
    return math.pow(mean, 1 / exponent)


def batch_ms(total_ms: int, units: int, learning: float = DEFAULT_RATE, first: int = 1) -> int:
    """Time of a batch of like units in whole milliseconds (Crawford).

    Args:
        total_ms: Time of the first unit ever done.
        units: Units in the batch.
        learning: Rate; 1.0 for no learning.
        first: Number of the batch's first unit: 1 when nobody has done one before.
    """
    return round(crawford_cumulative(total_ms, first, first + units - 1, learning))


def _check_units(first: int, last: int) -> None:
    if not 1 <= first <= last <= MOST_UNITS:
        raise ValueError(f"units run from 1 to {MOST_UNITS}, in order, not from {first} to {last}")
