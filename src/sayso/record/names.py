"""Taking names out of what is exported: people become 'person 1', 'person 2'... and stay apart.

What counts as a name: the people who did a job, its witnesses and their spoken codes, whoever answered a hold
point or signed a deviation off, and who might have. They are replaced wherever they stand in a job's entries,
in heard words and in the procedure's text too; there the codes of hold points are covered as well.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from typing import Any, Final

from sayso.record import hands
from sayso.record.chain import Entry

_DIGITS: Final = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
#: What stands in place of a spoken code.
_CODE: Final = "code"


#: code, name and role of somebody who may sign; `sayso.record.sign_off.who_may_sign` lists them.
Signer = tuple[str, str, str]


def whole(text: str, flags: int = 0) -> re.Pattern[str]:
    """`text` where it stands as a word or words of its own."""
    return re.compile(rf"(?<!\w){re.escape(text)}(?!\w)", flags)


class Pseudonyms:
    """Gives the same pseudonym to the same person over many jobs of one export."""

    def __init__(self) -> None:
        self._known: dict[str, str] = {}

    def of(self, name: str) -> str:
        """The pseudonym of a person; '' stays ''."""
        key = " ".join(name.casefold().split())
        if not key:
            return ""
        return self._known.setdefault(key, f"person {len(self._known) + 1}")

    def job(self, entries: Iterable[Entry], signers: Iterable[Signer] = ()) -> list[dict[str, Any]]:
        """The entries of one job without names and without audio names, as JSON values.

        `signers` are all whose code the job knows: the text that was run, kept in its opening, names them.
        """
        rows = [entry.as_json() for entry in entries]
        _forget_codes(rows)
        known = list(signers)
        replacements = self._replacements(rows, {name for _, name, _ in known})
        for row in rows:
            _cover_codes(row["data"].get("meta", {}), [code for code, *_ in known])
            row["data"] = _replaced(row["data"], replacements)
            _forget_audio(row["data"])
        return rows

    def _replacements(
        self, rows: list[dict[str, Any]], signers: set[str]
    ) -> list[tuple[re.Pattern[str], str]]:
        names = set(signers)
        codes: set[str] = set()
        for row in rows:
            data = row["data"]
            meta = data.get("meta", {}) if row["kind"] == "opened" else {}
            names.update(str(x) for x in (data.get("person", ""), meta.get("person", "")) if x)
            if row["kind"] == hands.KIND:
                names.update(str(data.get(side, "")) for side in ("from", "to"))
            if row["kind"] in ("witness", "signed_off"):
                names.add(str(data.get("name", "")))
            if row["kind"] == "not_met":
                names.add(str(data.get("released_by", "")))
            if data.get("kind") == "witness":
                names.add(str(data.get("value", "")))
            for pair in data.get("witnesses", ()) or ():
                codes.add(str(pair[0]))
                names.add(str(pair[1]))
        # longest first; among those of one length by name, so that every export of a job numbers them alike
        ordered = sorted(names, key=lambda name: (-len(name), name))
        found = [(name, self.of(name)) for name in ordered if name.strip()]
        for code in sorted(codes, key=len, reverse=True):
            found.append((code, _CODE))
            found.append((" ".join(_DIGITS[int(c)] for c in code if c.isdigit()), _CODE))
        return [(whole(text, re.IGNORECASE), word) for text, word in found if text]


def anonymised(entries: Iterable[Entry], names: Pseudonyms, signers: Iterable[Signer] = ()) -> list[Entry]:
    """The entries without names, to be read; their hashes are still those of the originals."""
    return [
        Entry(
            row["job"],
            row["seq"],
            row["at_ms"],
            row["kind"],
            json.dumps(row["data"], ensure_ascii=False),
            row["prev"],
            row["hash"],
        )
        for row in names.job(entries, signers)
    ]


def _replaced(value: Any, replacements: list[tuple[re.Pattern[str], str]]) -> Any:
    if isinstance(value, str):
        for pattern, word in replacements:
            value = pattern.sub(word, value)
        return value
    if isinstance(value, Mapping):
        return {key: _replaced(item, replacements) for key, item in value.items()}
    if isinstance(value, list):
        words = [item for item in value if isinstance(item, str)]
        if words and len(words) == len(value):
            # Heard words stand apart in a list; a name or code may run over several of them.
            joined = " ".join(words)
            cleaned = str(_replaced(joined, replacements))
            return value if cleaned == joined else cleaned.split(" ")
        return [_replaced(item, replacements) for item in value]
    return value


def _forget_codes(rows: list[dict[str, Any]]) -> None:
    """Whatever was said at a hold point goes: a spoken code is as good as a name, and may be used again."""
    heard: list[dict[str, Any]] = []
    for row in rows:
        data = row["data"]
        if row["kind"] == "step_entered":
            heard.clear()
        elif data.get("words") or data.get("offers"):
            heard.append(data)
        if data.get("kind") == "witness":
            data["said"] = _CODE
        if row["kind"] in ("witness", "not_met"):
            for said in heard:
                if said.get("offers"):
                    said["offers"] = []
                    continue
                said["words"] = [_CODE]
                said["alternatives"] = []
                said["word_confidences"] = []


def _cover_codes(meta: dict[str, Any], codes: list[str]) -> None:
    """In the procedure's files only: a code of two digits may be a count or a torque anywhere else."""
    if isinstance(meta.get("files"), dict):
        meta["files"] = {name: without_codes(str(text), codes) for name, text in meta["files"].items()}


def without_codes(text: str, codes: Iterable[str]) -> str:
    """A report goes to many hands; with the code of a hold point any of them could pass for the lead hand."""
    for code in codes:
        text = whole(code).sub("*" * len(code), text)
    return text


def _forget_audio(data: dict[str, Any]) -> None:
    """A voice is personal too: its hash would still tell whose it is to whoever has the clip."""
    if data.get("clip"):
        data["clip"] = ""
    if data.get("kind") == "note":
        data["value"] = ""
