"""Keys that people write because another form or their own language of the trade has them: "min", "max"."""

from __future__ import annotations

from collections.abc import Sequence

from sayso.procedure.problems import write_one_of

#: What was written -> the keys that may be meant; the first that is known where it stands is told.
#: Collected from what newcomers tried first; no source.
_MEANT: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("min", "minimum", "low", "lower"), ("at_least", "from")),
    **dict.fromkeys(("max", "maximum", "high", "upper"), ("at_most", "to")),
    **dict.fromkeys(("tolerance", "tol"), ("within",)),
    **dict.fromkeys(("value", "nominal"), ("target",)),
    **dict.fromkeys(("bolts", "screws", "nuts"), ("fasteners",)),
    **dict.fromkeys(("text", "instruction", "do", "action", "description"), ("say",)),
    **dict.fromkeys(("goto", "go_to", "go", "next"), ("then",)),
    **dict.fromkeys(("if", "condition", "only_if"), ("when",)),
    **dict.fromkeys(("image", "photo", "figure"), ("picture",)),
    **dict.fromkeys(("timer", "delay", "pause"), ("wait",)),
    **dict.fromkeys(("reason", "because"), ("why",)),
    **dict.fromkeys(("repeat", "loop", "foreach", "for"), ("for_each",)),
    **dict.fromkeys(("qty", "amount"), ("quantity",)),
    **dict.fromkeys(("version", "rev"), ("revision",)),
}
_LEVELS = ("danger", "warning", "caution", "notice")


def write_key(written: str, known: Sequence[str]) -> str:
    """What to write for a key that is not known where it stands."""
    plain = written.casefold().replace("-", "_").replace(" ", "_")
    if plain in _LEVELS and plain not in known and "caution" in known:
        return f"write 'caution: {{level: {plain}, say: ...}}'"
    meant = next((key for key in _MEANT.get(plain, ()) if key in known), None)
    return f"write '{meant}'" if meant is not None else write_one_of(written, known)
