"""Trying a procedure without a machine: walking every branch through the real dialogue, scripted jobs,
a job replayed against a new revision, what can be said at each step. Nothing here opens audio or a record."""
