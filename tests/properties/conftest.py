"""Hypothesis in this folder: the same examples on every run, and few enough for every push.

With LONG_PROPERTIES=1 in the environment, thirty times as many, and others on every run.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, Phase, settings

PHASES = (Phase.explicit, Phase.reuse, Phase.generate, Phase.shrink)
SLOW = (HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large)

settings.register_profile(
    "every_push",
    derandomize=True,
    deadline=None,
    max_examples=100,
    phases=PHASES,
    print_blob=False,
    report_multiple_bugs=False,
    suppress_health_check=SLOW,
)
settings.register_profile(
    "long", deadline=None, max_examples=3000, phases=PHASES, report_multiple_bugs=False, suppress_health_check=SLOW
)
settings.load_profile("long" if os.environ.get("LONG_PROPERTIES") else "every_push")
