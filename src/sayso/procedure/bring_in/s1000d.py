"""An S1000D procedural data module (issues 4 and 5, element names from memory) as an outline.

S1000D's 'warning' is about people and its 'caution' about equipment, so a caution becomes a NOTICE here
(ANSI Z535: a NOTICE is about damage, a CAUTION about injury). XML is read by defusedxml: no entities, no
network.
"""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree.ElementTree import Element, ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring

from sayso.procedure.bring_in.draft import BringInError, Outline, OutlineStep

_LEVELS = {"warning": "warning", "caution": "notice"}
_TEXT_OF_CAUTION = ("warningAndCautionPara", "para")


def outline_from_data_module(data: bytes) -> Outline:
    """Raises BringInError when it is not XML, not safe, or not a procedural data module."""
    try:
        root = fromstring(data, forbid_dtd=False)
    except DefusedXmlException as error:
        raise BringInError(f"the XML defines entities, which are refused ({type(error).__name__})") from error
    except ParseError as error:
        raise BringInError(f"not XML: {error}") from error
    procedure = _first(root, "procedure")
    if procedure is None or _first(procedure, "mainProcedure") is None:
        kind = "issue 2 or 3" if _first(root, "mainfunc") is not None else "another kind of module"
        raise BringInError(
            f"no mainProcedure in this data module ({kind}); give a procedural module of issue 4 or 5"
        )
    outline = Outline(title=_title(root))
    _preliminaries(procedure, outline)
    main = _first(procedure, "mainProcedure")
    waiting: list[tuple[str, str]] = _safety(procedure)
    if main is not None:
        _steps(main, outline, "", waiting)
    close = _first(procedure, "closeRqmts")
    if close is not None:
        for condition in _conditions(close):
            outline.steps.append(OutlineStep(condition, "Close out"))
    if waiting:
        outline.remarks.append(f"a warning stands after the last step: '{waiting[0][1]}'")
    return outline


def _title(root: Element) -> str:
    title = _first(root, "dmTitle")
    if title is None:
        return ""
    parts = [_said(part) for name in ("techName", "infoName") if (part := _first(title, name)) is not None]
    return ", ".join(part for part in parts if part)


def _preliminaries(procedure: Element, outline: Outline) -> None:
    wanted = _first(procedure, "preliminaryRqmts")
    if wanted is None:
        return
    for kind, into in (
        ("supportEquipDescr", outline.tools),
        ("supplyDescr", outline.parts),
        ("spareDescr", outline.parts),
    ):
        for item in _all(wanted, kind):
            name, quantity = _first(item, "name"), _first(item, "reqQuantity")
            if name is None or not _said(name):
                outline.remarks.append(f"a {kind} without a name was left out")
                continue
            count = _said(quantity) if quantity is not None else ""
            into.append(f"{count} of {_said(name)}" if count and count != "1" else _said(name))
    outline.conditions += _conditions(wanted)


def _conditions(node: Element) -> list[str]:
    return [
        said
        for name in ("reqCond", "reqCondNoRef")
        for condition in _all(node, name)
        if not any(_local(child) == "reqCond" for child in condition) and (said := _said(condition))
    ]


def _safety(procedure: Element) -> list[tuple[str, str]]:
    """Warnings of the whole module: they go before the first step."""
    safety = _first(procedure, "reqSafety")
    return [] if safety is None else [one for child in safety.iter() for one in _caution(child)]


def _steps(node: Element, outline: Outline, section: str, waiting: list[tuple[str, str]]) -> None:
    for child in node:
        kind = _local(child)
        if kind in _LEVELS:
            waiting += _caution(child)
        elif kind == "proceduralStep":
            _step(child, outline, section, waiting)
        elif kind in ("table", "figure", "multimedia", "levelledPara"):
            outline.remarks.append(f"a {kind} was left out")


def _step(node: Element, outline: Outline, section: str, waiting: list[tuple[str, str]]) -> None:
    title = _child(node, "title")
    nested = [child for child in node if _local(child) == "proceduralStep"]
    own_section = _said(title) if title is not None and nested else section
    notes: list[str] = []
    said: list[str] = []
    for child in node:
        kind = _local(child)
        if kind in _LEVELS:
            waiting += _caution(child)
        elif kind == "note":
            notes += [_said(part) for part in _all(child, "notePara")]
        elif kind == "para":
            said.append(_said(child))
        elif kind in ("table", "figure", "multimedia"):
            outline.remarks.append(f"a {kind} in the step '{' '.join(said)[:50]}' was left out")
    text = " ".join(part for part in said if part)
    if text:
        step = OutlineStep(text, own_section, list(waiting), hint=" ".join(notes))
        waiting.clear()
        outline.steps.append(step)
    _steps_of(nested, outline, own_section, waiting)


def _steps_of(nodes: list[Element], outline: Outline, section: str, waiting: list[tuple[str, str]]) -> None:
    for node in nodes:
        _step(node, outline, section, waiting)


def _caution(node: Element) -> list[tuple[str, str]]:
    level = _LEVELS.get(_local(node))
    if level is None:
        return []
    texts = [_said(part) for name in _TEXT_OF_CAUTION for part in _all(node, name)]
    return [(level, text) for text in texts if text]


def _local(node: Element) -> str:
    return node.tag.rpartition("}")[2] if isinstance(node.tag, str) else ""


def _all(node: Element, name: str) -> Iterator[Element]:
    return (child for child in node.iter() if _local(child) == name)


def _first(node: Element, name: str) -> Element | None:
    return next(_all(node, name), None)


def _child(node: Element, name: str) -> Element | None:
    return next((child for child in node if _local(child) == name), None)


def _said(node: Element) -> str:
    return " ".join("".join(node.itertext()).split())
