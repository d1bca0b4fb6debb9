"""Microphone, noise and level check, vosk recogniser, grammars, pronunciations, lexicon graph.
Knows nothing of procedures or jobs."""
