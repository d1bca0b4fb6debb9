"""Hypothesis without a deadline: a busy machine must not turn a property into a timed assertion."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
