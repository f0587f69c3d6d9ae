"""What all tests share: how many random examples are drawn, and that they repeat."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

# A slow or busy machine is no failure of what is tested; the examples are the same every time.
settings.register_profile(
    "ci",
    derandomize=True,
    deadline=None,
    max_examples=100,
    print_blob=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
# For a developer who looks for more: HYPOTHESIS_PROFILE=search pytest tests/plan
settings.register_profile("search", deadline=None, max_examples=2_000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))
