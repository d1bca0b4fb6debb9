"""The state machine: pure advance(state, event) -> (state, effects); what is said and when.
No clock, audio, file or chance in here."""

from sayso.dialogue.advance import advance, begin, replay
from sayso.dialogue.settings import Settings
from sayso.dialogue.state import State

__all__ = ["Settings", "State", "advance", "begin", "replay"]
