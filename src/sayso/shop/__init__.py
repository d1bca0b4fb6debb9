"""Apprentice progress and figures over many jobs."""
