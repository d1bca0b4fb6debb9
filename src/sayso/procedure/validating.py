"""Nodes -> source models, with every pydantic error turned into a located problem."""

from __future__ import annotations

import re
from collections.abc import Mapping as AbstractMapping
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from sayso.plain_letters import plain_letters
from sayso.procedure.model import Place
from sayso.procedure.other_keys import write_key
from sayso.procedure.problems import Problem, did_you_mean, write_one_of
from sayso.procedure.source import (
    BeforeSource,
    CaseSource,
    CautionSource,
    OtherwiseSource,
    PartSource,
    PredictionSource,
)
from sayso.procedure.yaml_nodes import Mapping, Node, Scalar, Sequence

_NOT_KNOWN = "is not known here"
_IS_MISSING = " is missing"
_ALONE = " stands alone after a comma"
_IN_QUOTES = "put the whole text in quotes"
#: '29,5 V' inside {...}: what is behind its comma
_REST_OF_A_NUMBER = re.compile(r"\d+( |$)")
#: U+200B and its like come along when a text is copied from a page
_UNSEEN = re.compile("[\xa0\xad\u200b-\u200f\u2060\ufeff]")

Model = TypeVar("Model", bound=BaseModel)

#: The model of what stands under these keys, for 'did you mean'.
_INSIDE: dict[str, type[BaseModel]] = {
    "caution": CautionSource,
    "parts": PartSource,
    "before": BeforeSource,
    "predict": PredictionSource,
}


def plain(node: Node) -> Any:
    """The node as Python values; every scalar stays text, an empty one is None."""
    if isinstance(node, Scalar):
        if not node.text.strip():  # blanks in quotes are as empty as none
            return None if node.plain else ""
        return node.text
    if isinstance(node, Sequence):
        return [plain(item) for item in node.items]
    return {name: plain(entry.value) for name, entry in node.entries.items()}


def validated(
    model: type[Model],
    node: Mapping,
    problems: list[Problem],
    *,
    given: AbstractMapping[str, Any] | None = None,
    without: frozenset[str] = frozenset(),
) -> Model | None:
    """`node` as a `model`, or None with the problems added.

    `given` holds values that were validated elsewhere, `without` the keys that are looked at elsewhere.
    """
    data = {n: plain(e.value) for n, e in node.entries.items() if n not in without}
    data.update(given or {})
    try:
        return model.model_validate(data)
    except ValidationError as error:
        explained = [
            _explain(model, node, one) for one in _of_what_was_meant(error.errors(include_url=False))
        ]
        explained = _without_what_is_misspelt(explained)
        explained = _first_of_a_text_with_commas(explained)
        found: dict[tuple[Place, str], Problem] = {}
        for path, problem in explained:
            # A value may have one of several forms, and pydantic reports every try: where a try got further
            # into the value, what it found there is the fault, and 'must be a list' is not.
            further = any(
                other[: len(path)] == path and (len(other) > len(path) or told.what.endswith(_IS_MISSING))
                for other, told in explained
            )
            if not ("must be" in problem.what and further):
                # of one value one fault is told, of keys that are missing each
                key = problem.what if problem.what.endswith(_IS_MISSING) else ""
                found.setdefault((problem.place, key), problem)
        problems.extend(found.values())
        return None


def _of_what_was_meant(errors: list[Any]) -> list[Any]:
    """A part may be written as its name, one per language: {en: hose}. Where {name: hose, size: 3} has a key
    too many, what pydantic says of its other keys as languages is no fault."""
    too_many = {one["loc"][:2] for one in errors if one["type"] == "extra_forbidden"}
    return [one for one in errors if one["loc"][-1:] != ("[key]",) or one["loc"][:2] not in too_many]


def _without_what_is_misspelt(
    explained: list[tuple[tuple[str | int, ...], Problem]],
) -> list[tuple[tuple[str | int, ...], Problem]]:
    """Where 'sya' is told to be 'say', 'say' is not told to be missing too."""
    meant = {
        (path[:-1], f"'{told[1]}'{_IS_MISSING}")
        for path, problem in explained
        if _NOT_KNOWN in problem.what and (told := re.match("write '([^':]+)", problem.write))
    }
    return [(path, problem) for path, problem in explained if (path, problem.what) not in meant]


def _first_of_a_text_with_commas(
    explained: list[tuple[tuple[str | int, ...], Problem]],
) -> list[tuple[tuple[str | int, ...], Problem]]:
    """'A tug that rolls, slips, or tips' without quotes is one slip, however many commas it has."""
    seen: set[tuple[str | int, ...]] = set()
    kept = []
    for path, problem in explained:
        if _ALONE in problem.what and problem.write == _IN_QUOTES:
            if path[:-1] in seen:
                continue
            seen.add(path[:-1])
        kept.append((path, problem))
    return kept


def keys_of(model: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def _explain(model: type[BaseModel], root: Mapping, error: Any) -> tuple[tuple[str | int, ...], Problem]:
    """The path of keys to the fault, and the fault in words."""
    node: Node = root
    path: list[str | int] = []
    key: Scalar | None = None
    named = ""
    inside = model
    missing = ""
    for part in error["loc"]:
        if isinstance(part, int) and isinstance(node, Sequence) and part < len(node.items):
            node = node.items[part]
            key = None
            path.append(part)
        elif isinstance(node, Mapping) and part in node.entries:
            key = node.entries[part].key
            node = node.entries[part].value
            named = str(part)
            path.append(part)
            inside = _INSIDE.get(named, inside)
        else:
            missing = str(part)
    return tuple(path), _in_words(error, node, key, named, inside, missing)


def _has_no_colon(key: Scalar, value: Node) -> bool:
    """Whether this entry of {...} is a word without ': ', as what follows a comma in a text is."""
    nothing = isinstance(value, Scalar) and value.plain and not value.text
    same_line = (value.place.file, value.place.line) == (key.place.file, key.place.line)
    return nothing and same_line and value.place.column == key.place.column + len(key.text)


def _in_words(
    error: Any, node: Node, key: Scalar | None, named: str, inside: type[BaseModel], missing: str
) -> Problem:
    kind = error["type"]
    context = error.get("ctx", {})
    if kind == "missing":
        return Problem(node.place, f"'{missing}' is missing", f"add '{missing}: ...'")
    if kind == "extra_forbidden":
        at = key.place if key is not None else node.place
        if key is not None and _has_no_colon(key, node) and named.partition(":")[0] not in keys_of(inside):
            return Problem(
                at,
                f"'{named}'{_ALONE}, which begins the next entry inside {{...}}",
                "write a number with a point, 0.25" if _REST_OF_A_NUMBER.match(named) else _IN_QUOTES,
            )
        if (unseen := _UNSEEN.search(named)) is not None:
            sign = f"a sign that is not shown (U+{ord(unseen.group()):04X})"
            what = f"the key '{named}' {_NOT_KNOWN}: it holds {sign}"
            return Problem(at, what, write_one_of(_UNSEEN.sub("", named), keys_of(inside)))
        before, colon, after = named.partition(":")
        if (
            colon
            and key is not None
            and isinstance(node, Scalar)
            and not node.text
            and before in keys_of(inside)
        ):
            what = f"the key '{named}' {_NOT_KNOWN}: it has no blank after its ':'"
            return Problem(at, what, f"write '{before}: {after}'")
        return Problem(at, f"the key '{named}' {_NOT_KNOWN}", write_key(named, keys_of(inside)))
    here = _name(named, key)
    if isinstance(node, Scalar) and node.plain and not node.text:
        return Problem(
            key.place if key is not None else node.place, f"{here} is empty", "write its value, or remove it"
        )
    if isinstance(node, Mapping) and node.flow and len(node.entries) == 1:
        only = next(iter(node.entries.values()))
        if isinstance(only.value, Scalar) and not only.value.text:
            return Problem(
                node.place,
                f"{here} must be text, not {{{only.key.text}}}",
                f"write <{only.key.text}> to fill it in",
            )
    text = node.text if isinstance(node, Scalar) else ""
    place = node.place
    if kind == "literal_error":
        allowed = [
            piece.strip(" '") for piece in str(context.get("expected", "")).replace(" or ", ",").split(",")
        ]
        if named == "level" and not did_you_mean(text, allowed, at_least=80):
            # the nearest in letters ("attention", "caution") may be a lower one than was meant
            return Problem(place, f"{here} '{text}' is not known", f"write one of: {', '.join(allowed)}")
        return Problem(place, f"{here} '{text}' is not known", write_one_of(text, allowed))
    if kind == "string_pattern_mismatch":
        return Problem(
            place, f"{here} '{text}' has a form that is not allowed", _form(text, str(context["pattern"]))
        )
    if kind in ("int_parsing", "int_type", "int_from_float"):
        return Problem(place, f"{here} must be a whole number, not {_shown(node)}", "write digits only")
    if kind in ("float_parsing", "float_type", "finite_number"):
        return Problem(
            place, f"{here} must be a number, not {_shown(node)}", "write digits and a point, no unit"
        )
    if kind in ("bool_parsing", "bool_type"):
        return Problem(place, f"{here} must be true or false, not {_shown(node)}", "write true or false")
    if kind in ("greater_than_equal", "greater_than", "less_than_equal", "less_than"):
        return Problem(place, f"{here} is {text}: {_lower(error['msg'])}", "write a number in that range")
    if kind == "string_too_short":
        return Problem(place, f"{here} is empty", "write its value, or remove it")
    if kind in ("too_short", "too_long", "list_type", "tuple_type") and named == "plausible":
        write = "write them as [0, 60]"
        if kind != "too_short":  # "0-60", or three numbers of which a comma made two
            write += ", numbers with a point: [0, 2.5]"
        return Problem(place, f"{here} needs two values, the lowest and the highest", write)
    if kind in ("too_short", "too_long"):
        return Problem(place, f"{here}: {_lower(error['msg'])}", "write that many")
    wanted = {
        "string_type": "text",
        "dict_type": "'key: value' lines",
        "model_type": "'key: value' lines",
        "model_attributes_type": "'key: value' lines",
        "list_type": "a list, each line starting with '- '",
    }.get(kind)
    if wanted and named == "within":
        return Problem(place, f"{here} must be one tolerance to each side", "write it as '10 %' or '0.5 N.m'")
    if wanted and named == "caution" and text:
        return Problem(
            place, "'caution' needs a level and a text", f'write {{level: warning, say: "{text[:40]}"}}'
        )
    if wanted:
        return Problem(place, f"{here} must be {wanted}, not {_shown(node)}", f"write {wanted}")
    return Problem(place, f"{here}: {_lower(error['msg'])}", "see procedures/WRITING.md")


def _name(named: str, key: Scalar | None) -> str:
    if not named:
        return "this"
    return f"'{named}'" if key is not None else f"an entry of '{named}'"


def _shown(node: Node) -> str:
    if isinstance(node, Scalar):
        return f"'{node.text}'" if len(node.text) < 40 else f"'{node.text[:37]}...'"
    return "a list" if isinstance(node, Sequence) else "'key: value' lines"


def _lower(message: str) -> str:
    return message[:1].lower() + message[1:]


def _form(text: str, pattern: str) -> str:
    joiner = "_" if "_" in pattern else "-"
    # 'ü' as its letter, or 'prüfen' would be the two words 'pr' and 'fen'
    words = "".join(c if c.isascii() and c.isalnum() else " " for c in plain_letters(text)).split()
    if "{2,3}" in pattern:
        return "write a language code of two or three letters, as 'en'"
    example = joiner.join(words)
    if joiner == "_" and example[:1].isdigit():
        example = "a_" + example
    return f"write lower case words joined by '{joiner}'" + (f": '{example}'" if example else "")


def _leads_by_answer(item: Node) -> bool:
    """'8: short' as an item of a list, where 'if' and 'go' belong."""
    return (
        isinstance(item, Mapping)
        and len(item.entries) == 1
        and not item.entries.keys() & {"if", "go"}
        and all(isinstance(entry.value, Scalar) and entry.value.text for entry in item.entries.values())
    )


def then_value(node: Node, problems: list[Problem]) -> Any:
    """What stands under `then`, or None with the problems added."""
    if isinstance(node, Scalar):
        if node.text:
            return node.text
        problems.append(Problem(node.place, "'then' is empty", "write a step id, 'next' or 'end'"))
        return None
    if isinstance(node, Mapping):
        targets: dict[str, str] = {}
        if not node.entries:
            problems.append(Problem(node.place, "'then' is empty", "write 'answer: step-id' lines"))
            return None
        for name, entry in node.entries.items():
            if isinstance(entry.value, Scalar) and entry.value.text:
                targets[name] = entry.value.text
            else:
                problems.append(
                    Problem(
                        entry.value.place,
                        f"the answer '{name}' leads nowhere",
                        "write a step id, 'next' or 'end'",
                    )
                )
        return targets if len(targets) == len(node.entries) else None
    cases: list[CaseSource | OtherwiseSource] = []
    if not node.items:
        problems.append(Problem(node.place, "'then' is empty", "write '- if: ...' with 'go: step-id'"))
        return None
    by_answer = all(_leads_by_answer(item) for item in node.items)
    if by_answer and any(isinstance(i, Mapping) and "otherwise" not in i.entries for i in node.items):
        what = "answers and where they lead are no list"
        write = "write {8: step-id, otherwise: step-id}" if node.flow else "leave the hyphens out"
        problems.append(Problem(node.place, what, write))
        return None
    for item in node.items:
        if not isinstance(item, Mapping):
            problems.append(
                Problem(item.place, "a line of 'then' must be 'if: ...' with 'go: ...'", "write both keys")
            )
            continue
        model = OtherwiseSource if "otherwise" in item.entries else CaseSource
        case = validated(model, item, problems)
        if case is not None:
            cases.append(case)  # type: ignore[arg-type]
    for item, case in zip(node.items[:-1], cases[:-1], strict=False):
        if isinstance(case, OtherwiseSource):
            problems.append(Problem(item.place, "'otherwise' is not the last line", "move it to the end"))
    return cases if len(cases) == len(node.items) else None
