"""Words the checks know: verbs of the workshop, words of hazard and warning.

Common practice, no source.
"""

from __future__ import annotations

import re


def _set(text: str) -> frozenset[str]:
    return frozenset(text.split())


#: Verbs that start an instruction.
ACTIONS = _set(
    """
    add adjust align apply attach bleed block bolt brush burn cap charge chock clamp clean clear clip
    close connect cover crimp cut dip discharge disconnect drain drill drive drop enter fasten feed
    fetch file fill fit fix flush fold glue grease grip hammer hang heat hoist hold inflate insert
    inspect install jack join key label lay let lift load lock loosen lower lubricate mark measure mount
    move note oil open paint park peel pick pin place plug position pour press pull pump push put raise
    read record release remove replace reset rest return rinse roll rotate scrape screw seal secure
    select set shim shut slide solder spin spray start stop strip support swap switch tag take tap test
    tie tighten tilt torque touch turn unbolt unclip undo unfasten unlock unplug unscrew wait wash weigh
    wipe wrap write zero
    """
)

#: Families of hazard: words of a step that call for a caution, words by which a caution covers them.
HAZARDS: dict[str, tuple[frozenset[str], frozenset[str]]] = {
    "lifting": (
        _set("lift lifting jack hoist raise crane sling"),
        _set(
            """
            lift lifting lifted jack hoist raise stand stands heavy weighs weight kilograms crush crushes fall
            falls under slip slips back person
            """
        ),
    ),
    "electric shock or burn": (
        _set("capacitor capacitors busbar terminal terminals battery cell cells mains"),
        _set(
            """
            charged charge live shock burn burns spark sparks current voltage short shorted battery terminals
            insulated arc melt acid rings
            """
        ),
    ),
    "acid": (_set("acid electrolyte"), _set("acid electrolyte eyes goggles gloves skin burns eye")),
    "stored force": (
        _set("spring springs accumulator hydraulic pneumatic hose hoses"),
        _set("spring springs pressure force tension release fly flies stored"),
    ),
    "heat or sparks": (
        _set("weld grind grinder torch solder"),
        _set("hot sparks fire burn burns gas eyes eye"),
    ),
}

_WORD = re.compile(r"[^\W_]+(?:(?:['’-]|(?<=\d)[.,](?=\d))[^\W_]+)*")
_SENTENCE_END = re.compile(r"(?<=[.!?:;])\s+|\n+")
_SMALL = _set(
    """
    a an and are as at be been before both but by can could do does down for from has have if in into is
    it its keep may must never no not of off on onto one only or other out over same so than that the
    their them then there they this to two under until up use very when where which while with without
    wear you your
    """
)


def words(text: str) -> list[str]:
    """Words as ASD-STE100 counts them: a hyphenated word is one, a number is one."""
    return _WORD.findall(text)


def sentences(text: str) -> list[str]:
    return [piece for piece in _SENTENCE_END.split(text) if piece.strip()]


def stems(text: str) -> frozenset[str]:
    """Content words without their commonest endings, for comparing texts."""
    return frozenset(stem(word) for word in words(text.lower()) if word not in _SMALL and not word.isdigit())


def stem(word: str) -> str:
    for ending in ("ing", "ed", "es", "s"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            return word[: -len(ending)]
    return word
