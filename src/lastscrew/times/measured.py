"""Learning from measured work: what a step takes here, from clocked times and the table's guess.

Times of a step are taken as lognormal. The table (or the device file) is worth a few measurements to
begin with; each clocked time moves the estimate towards what is seen, and narrows its range. This is the
conjugate normal model with unknown mean and variance on the logarithms (normal-inverse-chi-squared;
A. Gelman and others, *Bayesian Data Analysis*, 3rd ed., section 3.3, from memory).

Interruptions are no work: times that a person flagged are left out, and so are times that lie
far from the median (the rule of B. Iglewicz and D. Hoaglin, 1993: modified z-score above 3.5, from
memory). Both are counted and shown.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist, median

MODIFIED_Z_LIMIT = 3.5
MAD_TO_SD = 1.4826
"""Median absolute deviation to standard deviation, for a normal distribution."""

LEAST_LOG_SPREAD = 0.05
"""Logarithmic spread below which differences are not called outliers: nobody clocks closer."""

PRIOR_WEIGHT = 2.0
"""So many measurements is a time from the table or the device file worth (our own figure)."""

ASSUMED_WEIGHT = 0.5
"""And so many one in which something was assumed (our own figure)."""

PRIOR_DEGREES = 4.0
"""Degrees of freedom of the prior spread (our own figure; above 2, so that a variance exists)."""


@dataclass(frozen=True, slots=True)
class Clocking:
    """One clocked time of a step.

    Attributes:
        ms: Milliseconds, above 0.
        flagged: Why it is no fair time (``pause``, ``dropped a screw``), "" where it is one.
    """

    ms: int
    flagged: str = ""


@dataclass(frozen=True, slots=True)
class Estimate:
    """What a step takes, and how sure that is.

    Attributes:
        mean_ms: Expected time.
        low_ms, high_ms: Range that holds eight of ten future times.
        spread: Standard deviation of one future time as a share of the mean.
        count: Clocked times that were used.
        flagged: Left out because a person flagged them.
        outliers: Left out because they lie far from the rest (their times, in order).
        source: One phrase: ``measured here, 12 times``.
    """

    mean_ms: int
    low_ms: int
    high_ms: int
    spread: float
    count: int
    flagged: int
    outliers: tuple[int, ...]
    source: str


def without_outliers(times_ms: Sequence[int]) -> tuple[list[int], list[int]]:
    """Split times into those that are used and those too far from the median, on logarithms.

    Fewer than four times tell nothing about what is far: all are used.
    """
    if len(times_ms) < 4:
        return list(times_ms), []
    logs = [math.log(ms) for ms in times_ms]
    centre = median(logs)
    deviation = MAD_TO_SD * median(abs(value - centre) for value in logs)
    limit = MODIFIED_Z_LIMIT * max(deviation, LEAST_LOG_SPREAD)
    used = [ms for ms, value in zip(times_ms, logs, strict=True) if abs(value - centre) <= limit]
    left = [ms for ms, value in zip(times_ms, logs, strict=True) if abs(value - centre) > limit]
    return used, left


def blend(
    prior_ms: int,
    prior_spread: float,
    clockings: Sequence[Clocking],
    weight: float = PRIOR_WEIGHT,
    prior_source: str = "table",
) -> Estimate:
    """Blend clocked times with what was thought before.

    Args:
        prior_ms: Time from the table or the device file, above 0.
        prior_spread: Its spread as a share of it, above 0.
        clockings: Clocked times, in any order.
        weight: Measurements that the prior is worth, above 0.
        prior_source: Where the prior comes from, for ``source``.

    Raises:
        ValueError: If a time, the spread or the weight is not above 0.
    """
    if min([prior_ms, prior_spread, weight, *(c.ms for c in clockings)]) <= 0:
        raise ValueError("times, spread and weight must be above 0")
    fair = [clocking.ms for clocking in clockings if not clocking.flagged]
    used, outliers = without_outliers(fair)
    logs = [math.log(ms) for ms in used]
    count = len(logs)

    prior_variance = math.log1p(prior_spread**2)
    prior_mean = math.log(prior_ms) - prior_variance / 2
    mean_log = math.fsum(logs) / count if count else prior_mean
    squares = math.fsum((value - mean_log) ** 2 for value in logs)

    together = weight + count
    degrees = PRIOR_DEGREES + count
    centre = (weight * prior_mean + count * mean_log) / together
    shift = weight * count / together * (mean_log - prior_mean) ** 2
    variance = (PRIOR_DEGREES * prior_variance + squares + shift) / degrees

    half = student_quantile(0.9, degrees) * math.sqrt(variance * (1 + 1 / together))
    return Estimate(
        mean_ms=round(math.exp(centre + variance / 2)),
        low_ms=math.floor(math.exp(centre - half)),
        high_ms=math.ceil(math.exp(centre + half)),
        spread=math.sqrt(math.expm1(variance)),
        count=count,
        flagged=len(clockings) - len(fair),
        outliers=tuple(outliers),
        source=_source(count, prior_source),
    )


def _source(count: int, prior_source: str) -> str:
    if not count:
        return prior_source
    return f"measured here, {count} {'time' if count == 1 else 'times'}, with {prior_source}"


def student_quantile(probability: float, degrees: float) -> float:
    """Quantile of Student's t by the expansion in 1/degrees (Abramowitz and Stegun 26.7.5).

    Good to three digits for 4 degrees and up and probabilities to 0.975: enough for a range
    that is rounded anyway, and no need of a statistics library.
    """
    z = NormalDist().inv_cdf(probability)
    g1 = (z**3 + z) / 4
    g2 = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    g3 = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    g4 = (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160
    return z + g1 / degrees + g2 / degrees**2 + g3 / degrees**3 + g4 / degrees**4
