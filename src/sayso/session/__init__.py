"""The shell: the one place where the machine, audio, clock and record meet.
Decides nothing about a job: it stamps events, commits them, then carries out what the machine asks for."""
