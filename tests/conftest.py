"""What every test shares: Hypothesis draws the same examples in every run, and a slow machine fails nothing."""

from hypothesis import HealthCheck, settings

settings.register_profile("check", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("check")
