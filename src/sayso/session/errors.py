"""Everything that the user can put right, as one line."""

from __future__ import annotations


class UserError(Exception):
    """str() is one plain line: what is wrong and what to do instead."""


class NoVoiceError(UserError):
    """A job by voice cannot run on this machine: no microphone, loudspeaker, voice engine or model."""
