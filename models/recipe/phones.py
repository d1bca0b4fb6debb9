# ruff: noqa: SIM905
"""The phone set and how phones, pdfs, graph labels and transition ids are numbered (the model's contract).

Phone i has pdf 2i for its first 30 ms frame and pdf 2i+1 for every later one. Phones in the graph carry
their place
in the word (begin, end, internal, singleton) so that vosk finds word boundaries; the places share the pdfs.
"""

from __future__ import annotations

ARPABET = (
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W Y Z ZH"
).split()
PHONES = ["SIL", "SPN", *ARPABET]
PHONE_ID = {p: i for i, p in enumerate(PHONES)}
SIL, SPN = 0, 1
N_PHONES = len(PHONES)
N_PDFS = 2 * N_PHONES

PLACES = (("B", "begin"), ("E", "end"), ("I", "internal"), ("S", "singleton"))
# (symbol, place for word_boundary.int, phone index); the id of a label is its position + 1, 0 is <eps>
LABELS: list[tuple[str, str, int]] = [("SIL", "nonword", SIL), ("SPN", "singleton", SPN)] + [
    (f"{p}_{short}", place, i + 2) for i, p in enumerate(ARPABET) for short, place in PLACES
]
N_LABELS = len(LABELS)
N_TRANSITION_IDS = 2 * N_LABELS
