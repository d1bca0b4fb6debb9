"""Measures a job over a real audio path: private PulseAudio sinks, a technician that listens and speaks.
Runs sayso as a program from outside; nothing that a job needs lives here."""
