"""What hands-on time costs."""

from __future__ import annotations

import math

MS_PER_HOUR = 3_600_000


def labour_cost(ms: int, rate_per_h: float) -> float:
    """Price of ``ms`` milliseconds of work at ``rate_per_h``, in the currency of the rate.

    Not rounded: whoever shows it rounds once, at the end.

    Raises:
        ValueError: If the rate is not a finite number of 0 or more.
    """
    if not (math.isfinite(rate_per_h) and rate_per_h >= 0):
        raise ValueError(f"an hourly rate is a finite number of 0 or more, not {rate_per_h}")
    return ms * rate_per_h / MS_PER_HOUR
