"""One validated step -> the `Step` that the dialogue runs."""

from __future__ import annotations

import posixpath
import re
from dataclasses import dataclass
from typing import Any

from sayso.procedure.conditions import ConditionError, check_syntax
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
    Branch,
    Branches,
    Caution,
    CautionLevel,
    Option,
    Part,
    Step,
)
from sayso.procedure.problems import Problem, write_one_of
from sayso.procedure.quantities import QuantityError, known_unit, seconds, torque
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
    CaseSource,
    StepSource,
)
from sayso.procedure.texts import Texts
from sayso.procedure.unfold import StepNode
from sayso.procedure.validating import keys_of, then_value, validated
from sayso.procedure.yaml_nodes import Mapping, Node, Scalar, Sequence

#: What must be right is read back unless the file says otherwise.
_READ_BACK = {"torque": True, "serial": True, "witness": True}


@dataclass(frozen=True, slots=True)
class Resolved:
    """A step with the nodes it came from, so that checks can point at the exact key.

    Targets are as written ('next' included) until the whole procedure is known.
    """

    step: Step
    source: StepNode

    def node(self, *path: str | int) -> Node:
        """The node at `path`, or the nearest one around it."""
        node: Node = self.source.node
        for part in path:
            if isinstance(node, Mapping) and isinstance(part, str) and part in node.entries:
                node = node.entries[part].value
            elif isinstance(node, Sequence) and isinstance(part, int) and part < len(node.items):
                node = node.items[part]
            elif isinstance(node, Mapping | Scalar) and part == 0:
                continue  # a list of one may be written without its list
            else:
                break
        return node


def resolve_step(source: StepNode, texts: Texts, problems: list[Problem]) -> Resolved | None:
    """The step of `source`, or None with the problems added."""
    node = source.node
    before = len(problems)
    given: dict[str, Any] = {}
    ask_node = node.get("ask")
    ask_source = _ask_source(ask_node, problems) if ask_node is not None else None
    if ask_source is not None:
        given["ask"] = ask_source
    then_node = node.get("then")
    if then_node is not None:
        then = then_value(then_node, problems)
        if then is not None:
            given["then"] = then
    model = validated(StepSource, node, problems, given=given, without=frozenset({"ask", "then"}))
    if model is None:
        return None
    if ask_node is None:
        ask: Ask | None = AskDone(model.id.replace("-", "_"))
    elif ask_source is not None and isinstance(ask_node, Mapping):
        ask = _ask(ask_source, ask_node, texts, problems)
    else:
        ask = None
    wait = 0.0
    if model.wait is not None:
        try:
            wait = seconds(model.wait)
        except QuantityError as error:
            problems.append(Problem(node.entries["wait"].value.place, error.what, error.write))
    condition = _condition(source, problems)
    _cel(node.get("expect"), problems)
    branches = _branches(model.then, then_node, ask, problems)
    if ask is None or len([p for p in problems[before:] if p.severity == "error"]):
        return None
    picture = model.picture or ""
    if picture:
        picture = posixpath.normpath(posixpath.join(posixpath.dirname(node.place.file), picture))
    question = ask_node.get("question") if isinstance(ask_node, Mapping) else None
    step = Step(
        id=model.id,
        say=texts.spoken(node.get("say")),
        ask=ask,
        place=node.place,
        cautions=_cautions(node.get("caution"), texts),
        question=texts.spoken(question),
        why=texts.shown(node.get("why")),
        hint=texts.shown(node.get("hint")),
        mistakes=texts.shown_list(node.get("mistakes")),
        brief=texts.spoken(node.get("brief")),
        picture=picture,
        wait_s=wait,
        then=branches,
        when=condition,
        expect=model.expect or "",
        may_skip=model.skip,
        ends=texts.shown(node.get("ends")),
        out_of_limits=model.out_of_limits or "",
        skill=model.skill or "",
        tools=texts.shown_list(node.get("tools")),
        parts=parts(node.get("parts"), texts, problems),
        section=texts.shown(node.get("section") or source.section),
    )
    return Resolved(step, source)


def parts(node: Node | None, texts: Texts, problems: list[Problem]) -> tuple[Part, ...]:
    found: list[Part] = []
    for item in node.items if isinstance(node, Sequence) else []:
        if not isinstance(item, Mapping) or "name" not in item.entries:
            found.append(Part(texts.shown(item)))
            continue
        quantity = item.text("quantity") or "1"
        match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(\D*?)\s*", quantity)
        if match is None:
            place = item.entries["quantity"].value.place
            problems.append(Problem(place, f"quantity '{quantity}' is not a number", "write '2' or '3 m'"))
            continue
        found.append(Part(texts.shown(item.get("name")), float(match.group(1)), match.group(2)))
    return tuple(found)


def _cautions(node: Node | None, texts: Texts) -> tuple[Caution, ...]:
    items = node.items if isinstance(node, Sequence) else [node] if node is not None else []
    return tuple(
        Caution(CautionLevel(item.text("level") or ""), texts.spoken(item.get("say")))
        for item in items
        if isinstance(item, Mapping)
    )


def _condition(source: StepNode, problems: list[Problem]) -> str:
    written = [*source.conditions]
    own = source.node.get("when")
    if isinstance(own, Scalar) and own.text:
        written.append(own)
    for scalar in written:
        _cel(scalar, problems)
    if len(written) == 1:
        return written[0].text
    return " && ".join(f"({scalar.text})" for scalar in written)


def _cel(node: Node | None, problems: list[Problem]) -> None:
    if not isinstance(node, Scalar) or not node.text:
        return
    try:
        check_syntax(node.text)
    except ConditionError as error:
        place = node.place
        if error.column > 1 and node.plain and "\n" not in node.text:
            place = type(place)(place.file, place.line, place.column + error.column - 1)
        problems.append(
            Problem(
                place,
                f"condition '{node.text}': {error.what}",
                "write it like: answers.pins == 8",
                check="condition",
            )
        )


def _ask_source(node: Node, problems: list[Problem]) -> Any:
    if isinstance(node, Scalar):
        write = "write 'ask: {yes_no: name}'; leave 'ask' out to wait for 'done'"
        if node.text in ASKS:
            write = f"write 'ask: {{{node.text}: a_name}}'"
        problems.append(Problem(node.place, "'ask' must be 'kind: name'", write))
        return None
    if not isinstance(node, Mapping):
        problems.append(Problem(node.place, "a step asks one thing", "make a step of each question"))
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


def _ask(source: Any, node: Mapping, texts: Texts, problems: list[Problem]) -> Ask | None:
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
            return AskWitness(source.witness, texts.spoken(node.get("role")) or "witness", codes, read_back)
    raise AssertionError(kind)


def _torque(
    source: AskTorqueSource, node: Mapping, read_back: bool, problems: list[Problem]
) -> AskTorque | None:
    for key, example in (("target", "9 N.m"), ("within", "10 %")):
        if getattr(source, key) is None:
            what = "has no target" if key == "target" else "has no tolerance"
            at = node.entries["torque"].key.place
            problems.append(
                Problem(at, f"the torque '{source.torque}' {what}", f"add '{key}: {example}'", check="torque")
            )
    if source.target is None or source.within is None:
        return None
    try:
        value = torque(source.target, source.within)
    except QuantityError as error:
        key = "within" if error.what.startswith("within") else "target"
        problems.append(Problem(node.entries[key].value.place, error.what, error.write, check="torque"))
        return None
    return AskTorque(
        source.torque, value.target, value.low, value.high, value.unit, source.fasteners, read_back
    )


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


def _branches(then: Any, node: Node | None, ask: Ask | None, problems: list[Problem]) -> Branches:
    if then is None:
        return Branches()
    if isinstance(then, str):
        return Branches(otherwise=then)
    if isinstance(then, dict):
        cases = tuple(Branch(when, target) for when, target in then.items() if when != "otherwise")
        compare = "prefix" if isinstance(ask, AskSerial) else "value"
        return Branches(cases, then.get("otherwise"), compare)  # type: ignore[arg-type]
    if isinstance(node, Sequence):
        for item in node.items:
            if isinstance(item, Mapping):
                _cel(item.get("if"), problems)
    tests = tuple(Branch(case.if_, case.go, True) for case in then if isinstance(case, CaseSource))
    last = [case.otherwise for case in then if not isinstance(case, CaseSource)]
    return Branches(tests, last[0] if last else None)
