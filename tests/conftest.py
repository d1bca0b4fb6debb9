"""For all tests: Hypothesis without a deadline, since a busy machine must not turn a property into a timed
assertion, and with fewer examples than its default where CI has minutes, not hours."""

from hypothesis import HealthCheck, settings

settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")
