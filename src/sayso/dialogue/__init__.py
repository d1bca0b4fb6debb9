"""The state machine: pure advance(state, event) -> (state, effects); what is said and when.
No clock, audio, file or chance in here."""
