"""Words that turn what is said beside them into its opposite. Who looks for a denial begins here."""

from __future__ import annotations

#: In any place: before an order ("don't stop"), an answer ("not red"), a word said softly. "No" is not among
#: them: alone it is an answer, and before another value it is a correction ("no, four"). Who reads it as a
#: denial all the same says so where it adds it.
DENIALS = ("don't", "not", "never")
