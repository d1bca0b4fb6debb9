"""Phones -> Kokoro's phoneme tokens, in one of several accents, keeping which token belongs to which
phone."""

from __future__ import annotations

import random

from phones import PHONE_ID
from texts import Utterance

AMERICAN = dict(
    AA="ɑ",
    AE="æ",
    AH="ʌ",
    AO="ɔ",
    AW="W",
    AY="I",
    B="b",
    CH="ʧ",
    D="d",
    DH="ð",
    EH="ɛ",
    ER="ɜɹ",
    EY="A",
    F="f",
    G="ɡ",
    HH="h",
    IH="ɪ",
    IY="i",
    JH="ʤ",
    K="k",
    L="l",
    M="m",
    N="n",
    NG="ŋ",
    OW="O",
    OY="Y",
    P="p",
    R="ɹ",
    S="s",
    SH="ʃ",
    T="t",
    TH="θ",
    UH="ʊ",
    UW="u",
    V="v",
    W="w",
    Y="j",
    Z="z",
    ZH="ʒ",
)
BRITISH = AMERICAN | dict(AA="ɒ", AE="a", AO="ɔː", ER="ɜː", OW="Q", IY="iː", UW="uː")
# what speakers of other languages make of English sounds; each is used with the speaker's own strength
FOREIGN: dict[str, tuple[str, ...]] = dict(
    TH=("t", "s", "f"),
    DH=("d", "z"),
    W=("v", "ʋ"),
    V=("w", "b", "ʋ"),
    IH=("i",),
    AE=("ɛ", "a"),
    R=("r", "ɾ", "ʁ"),
    ER=("ɛɹ", "øɹ", "ɜ"),
    Z=("s",),
    HH=("x", "h"),
    AH=("a", "ɑ"),
    UH=("u",),
    OW=("o", "ɔ"),
    EY=("e", "ɛ"),
    JH=("ʤ", "ʒ"),
    CH=("ʃ", "ʧ"),
    NG=("ŋɡ", "n"),
    T=("t", "ʈ"),
    D=("d", "ɖ"),
)
WORD_START = 0x80  # set on the first phone of each word
VOWELS = frozenset(["AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW"])


def _split(phone: str) -> tuple[str, str]:
    return (phone[:-1], phone[-1]) if phone[-1].isdigit() else (phone, "")


def _symbols(word: list[str], accent: str, strength: float, r: random.Random) -> list[tuple[str, str]]:
    """(IPA symbols, phone) of one word."""
    out: list[tuple[str, str]] = []
    parts = [_split(p) for p in word]
    for k, (phone, stress) in enumerate(parts):
        after = parts[k + 1] if k + 1 < len(parts) else ("", "")
        before = parts[k - 1][0] if k else ""
        mark = {"1": "ˈ", "2": "ˌ"}.get(stress, "")
        if accent == "british":
            sym = BRITISH[phone]
            if phone == "AA" and after[0] == "R":
                sym = "ɑː"
            elif phone == "ER":
                sym = ("ɜː" if stress == "1" else "ə") + ("ɹ" if after[0] in VOWELS else "")
            elif phone == "AH" and stress == "0":
                sym = "ə"
            elif phone == "IY" and stress == "0":
                sym = "i"
            elif phone == "R" and after[0] not in VOWELS:
                sym = "ə" if before in ("IH", "IY", "UH", "AY", "AW") else ""
            elif phone == "EH" and after[0] == "R":
                sym = "ɛː"
        else:
            sym = AMERICAN[phone]
            if phone == "AH" and stress == "0":
                sym = "ə"
            elif phone == "ER" and stress == "0":
                sym = "əɹ"
            elif phone == "T" and k and before in VOWELS | {"R"} and after[0] in VOWELS and after[1] == "0":
                sym = "T" if r.random() < 0.7 else "t"
        if strength and phone in FOREIGN and r.random() < strength:
            sym = r.choice(FOREIGN[phone])
        out.append((mark + sym, phone))
    return out


def tokens(
    utterance: Utterance, vocab: dict[str, int], r: random.Random
) -> tuple[list[int], list[int], list[int], str]:
    """(token ids without the outer zeros, phone position of each token or -1 for a gap, phone ids,
    accent)."""
    accent = r.choices(("american", "british", "foreign"), (0.62, 0.23, 0.15))[0]
    strength = r.uniform(0.1, 0.6) if accent == "foreign" else 0.0
    ids: list[int] = []
    owner: list[int] = []
    phones: list[int] = []
    pausing = r.random() < 0.25
    for n, (_, word) in enumerate(utterance):
        if n:
            if pausing and r.random() < 0.6:
                ids.append(vocab[","])
                owner.append(-1)
            ids.append(vocab[" "])
            owner.append(-1)
        started = False
        for sym, phone in _symbols(word, "american" if accent == "foreign" else accent, strength, r):
            for c in sym:
                ids.append(vocab[c])
                owner.append(len(phones))
            # a dropped r leaves no token but stays in the label: the lexicon has it, so the net must learn
            # to hear it
            phones.append(PHONE_ID[phone] | (0 if started else WORD_START))
            started = True
    end = r.choices(("", ".", "!", "?", ","), (0.45, 0.2, 0.15, 0.12, 0.08))[0]
    if end:
        ids.append(vocab[end])
        owner.append(-1)
    return ids, owner, phones, accent
