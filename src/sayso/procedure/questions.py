"""What stands under `ask` -> the question that the dialogue asks."""

from __future__ import annotations

import re
import warnings
from typing import Any

from sayso.procedure.codes import wrong_with_code
from sayso.procedure.model import (
    Ask,
    AskChoice,
    AskCount,
    AskDone,
    AskMeasure,
    AskNote,
    AskSerial,
    AskTime,
    AskTorque,
    AskWitness,
    AskYesNo,
    Option,
)
from sayso.procedure.problems import Problem, write_one_of
from sayso.procedure.quantities import QuantityError, known_unit, torque
from sayso.procedure.source import (
    ASKS,
    AskChoiceSource,
    AskCountSource,
    AskDoneSource,
    AskMeasureSource,
    AskNoteSource,
    AskSerialSource,
    AskTimeSource,
    AskTorqueSource,
    AskWitnessSource,
    AskYesNoSource,
)
from sayso.procedure.texts import Texts
from sayso.procedure.validating import keys_of, validated
from sayso.procedure.yaml_nodes import Mapping, Node, Scalar, Sequence

#: What must be right is read back unless the file says otherwise.
_READ_BACK = {"torque": True, "serial": True, "witness": True}


def ask_source(node: Node, problems: list[Problem]) -> Any:
    if isinstance(node, Scalar):
        write = "write 'ask: {yes_no: name}'; leave 'ask' out to wait for 'done'"
        if node.text in ASKS:
            write = f"write 'ask: {{{node.text}: a_name}}'"
        problems.append(Problem(node.place, "'ask' must be 'kind: name'", write))
        return None
    if not isinstance(node, Mapping):
        problems.append(Problem(node.place, "'ask' must be {kind: name, ...}, not a list", _as_written(node)))
        return None
    kinds = [name for name in node.entries if name in ASKS]
    if not kinds:
        known = {key for model in ASKS.values() for key in keys_of(model)}
        odd = [entry.key for name, entry in node.entries.items() if name not in known]
        at = odd[0] if odd else None
        problems.append(
            Problem(
                at.place if at else node.place,
                f"'{at.text}' is no kind of answer" if at else "the kind of answer is missing",
                write_one_of(at.text if at else "", ASKS),
            )
        )
        return None
    if len(kinds) > 1:
        problems.append(
            Problem(node.entries[kinds[1]].key.place, "a step asks one thing", "make a step of each question")
        )
        return None
    return validated(ASKS[kinds[0]], node, problems)


def _as_written(node: Sequence) -> str:
    """[count, hoses] was meant to be {count: hoses}; of several questions each takes a step."""
    words = [item.text for item in node.items if isinstance(item, Scalar)]
    if len(words) > 1 and words[0] in ASKS:
        return f"write {{{words[0]}: {words[1]}}}"
    return "write ask: {count: pins, ...}, one question in a step"


def named_in(ask: Node | None) -> list[str]:
    """The names of answers that an `ask` which cannot be read may have been meant to give."""
    if isinstance(ask, Sequence):
        return [
            name
            for item in ask.items
            for name in ([item.text] if isinstance(item, Scalar) else named_in(item))
        ]
    if not isinstance(ask, Mapping):
        return []
    kinds = [name for name in ask.entries if name in ASKS] or list(ask.entries)[:1]
    return [name for kind in kinds if (name := ask.text(kind))]


def resolve_ask(source: Any, node: Mapping, texts: Texts, problems: list[Problem]) -> Ask | None:
    def at(key: str) -> Any:
        entry = node.entries.get(key)
        return entry.value.place if entry else node.place

    kind = next(name for name in node.entries if name in ASKS)
    read_back = source.read_back if source.read_back is not None else _READ_BACK.get(kind, False)
    match source:
        case AskDoneSource():
            return AskDone(source.done, read_back)
        case AskYesNoSource():
            return AskYesNo(source.yes_no, read_back)
        case AskChoiceSource():
            return AskChoice(
                source.choice, _options(node.entries["options"].value, texts, problems), read_back
            )
        case AskCountSource():
            if source.from_ > source.to:
                problems.append(
                    Problem(
                        at("from"),
                        f"from {source.from_} to {source.to} holds no number",
                        "swap 'from' and 'to'",
                    )
                )
                return None
            if source.from_ < 0:
                what = f"a count begins at nothing, not at {source.from_}"
                problems.append(Problem(at("from"), what, "write 'from: 0', or 'measure' for a reading"))
                return None
            return AskCount(source.count, source.from_, source.to, read_back)
        case AskMeasureSource():
            try:
                known_unit(source.unit)
            except QuantityError as error:
                problems.append(Problem(at("unit"), error.what, error.write))
                return None
            low, high = source.plausible or (None, None)
            return AskMeasure(
                source.measure,
                source.unit,
                source.below,
                source.above,
                source.at_least,
                source.at_most,
                low,
                high,
                read_back,
            )
        case AskTorqueSource():
            return _torque(source, node, read_back, problems)
        case AskSerialSource():
            if source.pattern is not None:
                try:
                    # What Python says of a bracket in brackets the check of patterns tells in our words.
                    with warnings.catch_warnings(action="ignore"):
                        re.compile(source.pattern)
                except (re.error, RecursionError, OverflowError) as error:
                    problems.append(
                        Problem(
                            at("pattern"),
                            f"'{source.pattern}' is no regular expression ({error})",
                            'write it like "[A-Z]{2}[0-9]{6}"',
                        )
                    )
                    return None
            return AskSerial(source.serial, source.pattern, read_back)
        case AskTimeSource():
            return AskTime(source.time, read_back)
        case AskNoteSource():
            return AskNote(source.note, read_back)
        case AskWitnessSource():
            codes = tuple(source.codes.items())
            for code, name in codes:
                if wrong := wrong_with_code(code, name):
                    problems.append(Problem(at("codes"), *wrong))
            return AskWitness(source.witness, texts.spoken(node.get("role")) or "witness", codes, read_back)
    raise AssertionError(kind)


#: So large that any tolerance is smaller.
_ANY_TARGET = "1000000000 N.m"
#: Both in one, as on a drawing.
_TARGET_AND_TOLERANCE = re.compile(
    r"(?P<target>[\d.,]+)\s*(?P<unit>[^\d(±+]*?)\s*\(?(?:±|\+/-|\+-)\s*(?P<within>[\d.,]+)\s*(?P<unit_>[^\d()]*?)\)?"
)


def _torque(
    source: AskTorqueSource, node: Mapping, read_back: bool, problems: list[Problem]
) -> AskTorque | None:
    if both := _TARGET_AND_TOLERANCE.fullmatch(str(source.target or "").strip()):
        # one of the two may have no unit of its own: '80 ± 8 Nm', '80 Nm ± 8'
        unit = both["unit"] or both["unit_"]
        within = f"{both['within']} {both['unit_'] or unit}"
        problems.append(
            Problem(
                node.entries["target"].value.place,
                f"target '{source.target}' holds the tolerance too",
                f"write 'target: {both['target']} {unit}' and 'within: {within}'",
                check="torque",
            )
        )
        return None
    for key, example in (("target", "9 N.m"), ("within", "10 %")):
        if getattr(source, key) is None:
            what = "has no target" if key == "target" else "has no tolerance"
            at = node.entries["torque"].key.place
            problems.append(
                Problem(at, f"the torque '{source.torque}' {what}", f"add '{key}: {example}'", check="torque")
            )
    if source.target is None or source.within is None:
        problems += _wrong_with_the_other(source, node)
        return None
    try:
        value = torque(source.target, source.within)
    except QuantityError as error:
        wrong = [error]
        if not error.what.startswith("within"):  # the tolerance was not looked at yet
            try:
                torque(_ANY_TARGET, source.within)
            except QuantityError as another:
                wrong.append(another)
        for one in wrong:
            key = "within" if one.what.startswith("within") else "target"
            problems.append(Problem(node.entries[key].value.place, one.what, one.write, check="torque"))
        return None
    return AskTorque(
        source.torque, value.target, value.low, value.high, value.unit, source.fasteners, read_back
    )


def _wrong_with_the_other(source: AskTorqueSource, node: Mapping) -> list[Problem]:
    """Where target or tolerance is missing the one that is there is looked at all the same, in one pass."""
    try:
        torque(source.target or _ANY_TARGET, source.within or "10 %")
    except QuantityError as error:
        key = "target" if source.within is None else "within"
        if key in node.entries:
            return [Problem(node.entries[key].value.place, error.what, error.write, check="torque")]
    return []


def _options(node: Node, texts: Texts, problems: list[Problem]) -> tuple[Option, ...]:
    found: list[Option] = []
    if isinstance(node, Sequence):
        found = [
            Option(item.text, (_as_words(item.text),)) for item in node.items if isinstance(item, Scalar)
        ]
    elif isinstance(node, Mapping):
        for value, entry in node.entries.items():
            words = tuple(word.lower() for word in texts.spoken_list(entry.value))
            found.append(Option(value, words))
    if len(found) < 2:
        problems.append(
            Problem(node.place, "a choice needs at least two options", "add one, or ask 'yes_no'")
        )
    seen: dict[str, str] = {}
    for option in found:
        for word in option.words:
            if word in seen:
                problems.append(
                    Problem(
                        node.place,
                        f"'{word}' means both '{seen[word]}' and '{option.value}'",
                        "use other words",
                    )
                )
            seen[word] = option.value
    return tuple(found)


def _as_words(value: str) -> str:
    return value.replace("_", " ").replace("-", " ").lower()
