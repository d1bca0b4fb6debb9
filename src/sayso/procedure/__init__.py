"""What a procedure is: its types, reading YAML with line-exact errors, checks, drawing, rehearsal aids.
Nothing here speaks, listens or records."""

from sayso.procedure.checks import check
from sayso.procedure.problems import Problem, ProcedureError
from sayso.procedure.reading import read, read_all, read_kept

__all__ = ["Problem", "ProcedureError", "check", "read", "read_all", "read_kept"]
