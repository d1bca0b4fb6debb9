"""An outline of steps -> the YAML of a first draft, and the list of what is still missing."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field, replace
from typing import Any

import yaml

from sayso.procedure.bring_in.wording import Understood, torque_of_cell, understood


class BringInError(ValueError):
    """A file that cannot be brought in; says what is wrong and what to give instead."""


@dataclass(slots=True)
class OutlineStep:
    text: str
    section: str = ""
    cautions: list[tuple[str, str]] = field(default_factory=list)  # (level, text)
    why: str = ""
    hint: str = ""
    #: given in a column of its own, not in the text
    target: str = ""
    within: str = ""
    unit: str = ""
    low: str = ""
    high: str = ""
    id: str = ""


@dataclass(slots=True)
class Outline:
    """What a list of steps says, before it is a procedure."""

    title: str = ""
    steps: list[OutlineStep] = field(default_factory=list)
    tools: list[str] = field(default_factory=list)
    parts: list[str] = field(default_factory=list)
    conditions: list[str] = field(default_factory=list)
    #: what had to be left out or guessed
    remarks: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Draft:
    """`text` is the YAML. `missing` says what a lead hand must still put in, with the line of the draft."""

    text: str
    missing: tuple[str, ...]

    @property
    def passes(self) -> bool:
        return not self.missing


def written(outline: Outline, name: str, file: str = "") -> Draft:
    """The draft, read and checked once: what the reader finds is part of `missing`. `file` is what it will
    be called, for the messages."""
    from sayso.procedure.checks import check_reading
    from sayso.procedure.reading import read_all_kept

    ids: set[str] = set()
    names: set[str] = set()
    body: dict[str, Any] = {
        "procedure": _slug(outline.title or name, "-") or "draft",
        "title": outline.title or name.replace("-", " ").replace("_", " "),
        "revision": 1,
        "defers_to": "The maker's manual, local codes and licensed practice come before this procedure.",
    }
    before = {
        key: listed
        for key, listed in (
            ("tools", outline.tools),
            ("parts", outline.parts),
            ("conditions", outline.conditions),
        )
        if listed
    }
    if before:
        body["before"] = before
    left_out: list[str] = []
    body["steps"] = [_step(step, ids, names, left_out) for step in outline.steps]
    head = "# A first draft, brought in: read every line, then raise the revision.\n"
    text = head + yaml.dump(body, Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=100)
    kept = f"{name}.yaml"
    problems = check_reading(read_all_kept({kept: text}, kept))
    shown = [replace(p, place=replace(p.place, file=file or kept)) for p in problems]
    missing = [*outline.remarks, *left_out, *(str(p) for p in shown if p.severity != "hint")]
    return Draft(text, tuple(missing))


def _step(step: OutlineStep, ids: set[str], names: set[str], left_out: list[str]) -> dict[str, Any]:
    found = understood(step.text, is_torque=bool(step.target))
    left_out += found.remarks
    node: dict[str, Any] = {"id": _unique(_slug(step.id or found.say, "-") or "step", ids, "-")}
    if step.section:
        node["section"] = step.section
    if step.cautions:
        listed = [{"level": level, "say": _sentence(text)} for level, text in step.cautions]
        node["caution"] = listed[0] if len(listed) == 1 else listed
    node["say"] = found.say
    if found.wait:
        node["wait"] = found.wait
    ask = _ask(step, found, names, node["id"])
    written = found.range if not step.target else step.target if _is_range(step.target) else ""
    if "torque" in ask and written:
        left_out.append(
            f"made of '{written}': target {ask['target']}, within {ask['within']}; see that it is meant so"
        )
    if ask:
        node["ask"] = ask
    if (step.low or step.high) and not ask.keys() & {"at_least", "at_most", "below", "above", "from"}:
        limits = " to ".join(limit for limit in (step.low, step.high) if limit)
        left_out.append(f"left out, the limits {limits} of '{step.text[:60]}': no unit says what they limit")
    if step.why:
        node["why"] = _sentence(step.why)
    if step.hint:
        node["hint"] = _sentence(step.hint)
    return node


def _is_range(torque: str) -> bool:
    return bool(re.search(r"\d\s*(?:to|and|-|–|\.\.)\s*\d", torque))


def _ask(step: OutlineStep, found: Understood, names: set[str], step_id: str) -> dict[str, Any]:
    target, within = torque_of_cell(step.target) if step.target else (found.target, found.within)
    within = step.within or within
    unit, low, high = step.unit or found.unit, step.low or found.at_least, step.high or found.at_most
    name = _unique(_slug(step_id, "_") or "answer", names, "_")
    if name[0].isdigit():
        name = f"a_{name}"
    if target:
        ask = {"torque": name, "target": target}
        if within:
            ask["within"] = within
        return {**ask, "fasteners": found.fasteners} if found.fasteners > 1 else ask
    if found.is_question:
        return {"yes_no": name}
    if unit and (found.is_measure or low or high):
        limits = (
            {"below": found.below, "above": found.above} | _limit("at_least", low) | _limit("at_most", high)
        )
        return {"measure": name, "unit": unit, **{key: _number(v) for key, v in limits.items() if v}}
    if found.is_serial:
        return {"serial": name}
    if not unit and re.match(r"count\b", found.say, re.I) and low.isdigit() and high.isdigit():
        return {"count": name, "from": int(low), "to": int(high)}
    return {}


_SIGN = re.compile(r"(<=|≤|<|>=|≥|>)\s*(?=[-+]?[\d.])")
_SIGNS = {"<": "below", ">": "above", "<=": "at_most", "≤": "at_most", ">=": "at_least", "≥": "at_least"}


def _limit(name: str, cell: str) -> dict[str, str]:
    """A cell with a sign of its own ('< 5') says itself which limit it is."""
    sign = _SIGN.match(cell)
    return {_SIGNS[sign.group(1)]: cell[sign.end() :]} if sign else {name: cell}


def _number(text: str) -> float | int | str:
    try:
        value = float(text)
    except ValueError:
        return text
    return int(value) if value.is_integer() else value


def _sentence(text: str) -> str:
    text = " ".join(text.split())
    return text if text[-1:] in ".!?" or not text else text + "."


def _slug(text: str, joiner: str) -> str:
    # 'ü' as its letter, or 'prüfen' would be the two words 'pr' and 'fen'
    plain = unicodedata.normalize("NFKD", text.casefold())
    words = re.findall(r"[a-z0-9]+", "".join(letter for letter in plain if not unicodedata.combining(letter)))
    kept = [word for word in words if word not in ("the", "a", "an", "of", "to", "and", "on", "in", "with")]
    return joiner.join((kept or words)[:5])


def _unique(name: str, taken: set[str], joiner: str) -> str:
    one, number = name, 2
    while one in taken or one in ("next", "end"):
        one, number = f"{name}{joiner}{number}", number + 1
    taken.add(one)
    return one


class _Dumper(yaml.SafeDumper):
    """Lists are set in from their key, as a person writes them."""

    def increase_indent(self, flow: bool = False, indentless: bool = False) -> None:
        super().increase_indent(flow, False)
