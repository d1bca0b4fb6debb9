"""What can be wrong with a procedure that can be read: one file per family of checks.
Each has `find(view)`, which yields problems. Nothing here reads files or changes the procedure."""

from sayso.procedure.checks.all import check, check_reading
from sayso.procedure.checks.view import AlikeWords, Ear, View

__all__ = ["AlikeWords", "Ear", "View", "check", "check_reading"]
