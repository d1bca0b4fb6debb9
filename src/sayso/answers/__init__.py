"""Kinds of answer: the grammar of each, spoken words -> value, limits, how a value is said back.
Pure functions only."""
