"""The 39 ARPAbet phones of CMUdict without stress, their features and their labels in a model.

Feature classes follow the usual articulatory tables (place, manner, voicing; height, backness,
rounding) as given for ARPAbet in Jurafsky & Martin, Speech and Language Processing (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

from sayso.arpabet import ARPABET

SILENCE = "SIL"
SPOKEN_NOISE = "SPN"

#: Position-dependent label kinds in the order in which they are numbered, with vosk's name for each.
_POSITIONS = (("B", "begin"), ("E", "end"), ("I", "internal"), ("S", "singleton"))

#: Every label of the model's phone table in id order (id = index + 1; id 0 is epsilon).
LABELS: tuple[tuple[str, str], ...] = (
    (SILENCE, "nonword"),
    (SPOKEN_NOISE, "singleton"),
    *((f"{phone}_{mark}", kind) for phone in ARPABET for mark, kind in _POSITIONS),
)
LABEL_IDS: dict[str, int] = {name: index + 1 for index, (name, _) in enumerate(LABELS)}


def position_labels(phones: tuple[str, ...]) -> tuple[int, ...]:
    """Label ids of a word's phones: begin, internal..., end; or singleton when there is only one."""
    if len(phones) == 1:
        return (LABEL_IDS[phones[0] + "_S"],)
    return (
        LABEL_IDS[phones[0] + "_B"],
        *(LABEL_IDS[phone + "_I"] for phone in phones[1:-1]),
        LABEL_IDS[phones[-1] + "_E"],
    )


@dataclass(frozen=True, slots=True)
class Consonant:
    place: float  # 0 lips ... 1 glottis
    manner: str
    voiced: bool


@dataclass(frozen=True, slots=True)
class Vowel:
    height: float  # 0 open ... 1 close
    back: float  # 0 front ... 1 back
    rounded: float
    #: where a diphthong glides to (height, back); the vowel itself when it does not glide.
    glide: tuple[float, float] | None = None


_C = Consonant
CONSONANTS: dict[str, Consonant] = {
    "P": _C(0.0, "stop", False),
    "B": _C(0.0, "stop", True),
    "T": _C(0.45, "stop", False),
    "D": _C(0.45, "stop", True),
    "K": _C(0.85, "stop", False),
    "G": _C(0.85, "stop", True),
    "CH": _C(0.6, "affricate", False),
    "JH": _C(0.6, "affricate", True),
    "F": _C(0.1, "fricative", False),
    "V": _C(0.1, "fricative", True),
    "TH": _C(0.25, "fricative", False),
    "DH": _C(0.25, "fricative", True),
    "S": _C(0.45, "sibilant", False),
    "Z": _C(0.45, "sibilant", True),
    "SH": _C(0.6, "sibilant", False),
    "ZH": _C(0.6, "sibilant", True),
    "HH": _C(1.0, "fricative", False),
    "M": _C(0.0, "nasal", True),
    "N": _C(0.45, "nasal", True),
    "NG": _C(0.85, "nasal", True),
    "L": _C(0.45, "liquid", True),
    "R": _C(0.55, "liquid", True),
    "W": _C(0.1, "glide", True),
    "Y": _C(0.7, "glide", True),
}
VOWELS: dict[str, Vowel] = {
    "IY": Vowel(1.0, 0.0, 0.0),
    "IH": Vowel(0.8, 0.15, 0.0),
    "EY": Vowel(0.65, 0.05, 0.0, (0.95, 0.05)),
    "EH": Vowel(0.45, 0.1, 0.0),
    "AE": Vowel(0.2, 0.15, 0.0),
    "AA": Vowel(0.0, 0.8, 0.0),
    "AO": Vowel(0.3, 1.0, 0.8),
    "OW": Vowel(0.6, 0.9, 0.9, (0.85, 0.9)),
    "UH": Vowel(0.8, 0.85, 0.6),
    "UW": Vowel(1.0, 1.0, 1.0),
    "AH": Vowel(0.4, 0.55, 0.0),
    "ER": Vowel(0.5, 0.5, 0.3),
    "AY": Vowel(0.05, 0.5, 0.0, (0.9, 0.1)),
    "AW": Vowel(0.05, 0.5, 0.0, (0.85, 0.9)),
    "OY": Vowel(0.35, 1.0, 0.8, (0.9, 0.1)),
}

#: Cost of mistaking one manner for another (0 same ... 1 nothing in common); unlisted pairs cost 1.
_MANNER_COST: dict[frozenset[str], float] = {
    frozenset(("stop", "affricate")): 0.4,
    frozenset(("sibilant", "affricate")): 0.4,
    frozenset(("sibilant", "fricative")): 0.4,
    frozenset(("stop", "fricative")): 0.6,
    frozenset(("liquid", "glide")): 0.4,
    frozenset(("nasal", "liquid")): 0.7,
    frozenset(("nasal", "stop")): 0.7,
}


#: Vowels are long and loud, so they weigh most: a consonant lost or mistaken costs at most this.
CONSONANT = 0.65


def phone_distance(a: str, b: str) -> float:
    """0 for the same phone, up to 1 for phones with nothing in common. Symmetric."""
    if a == b:
        return 0.0
    if a in CONSONANTS and b in CONSONANTS:
        c, d = CONSONANTS[a], CONSONANTS[b]
        manner = 0.0 if c.manner == d.manner else _MANNER_COST.get(frozenset((c.manner, d.manner)), 1.0)
        voicing = 0.0 if c.voiced == d.voiced else 0.2
        return min(CONSONANT, 0.5 * manner + 0.4 * abs(c.place - d.place) + voicing)
    if a in VOWELS and b in VOWELS:
        v, w = VOWELS[a], VOWELS[b]
        start = abs(v.height - w.height) + abs(v.back - w.back) + 0.3 * abs(v.rounded - w.rounded)
        ends = (v.glide or (v.height, v.back), w.glide or (w.height, w.back))
        end = abs(ends[0][0] - ends[1][0]) + abs(ends[0][1] - ends[1][1])
        return min(1.0, 0.1 + 0.3 * start + 0.3 * end)
    return 1.0


def gap_cost(phone: str) -> float:
    """Cost of a phone that is dropped or added: weak consonants go unheard most easily."""
    if phone in ("HH", "T", "D", "Y"):
        return 0.45
    return CONSONANT if phone in CONSONANTS else 1.0
