"""Hypothesis in this folder: the same examples on every run, and few enough for every push."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

settings.register_profile(
    "every_push",
    derandomize=True,
    deadline=None,
    max_examples=100,
    print_blob=False,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
settings.register_profile("long", deadline=None, max_examples=3000, suppress_health_check=list(HealthCheck))
settings.load_profile("every_push")
