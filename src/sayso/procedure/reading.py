"""Reading a procedure file, and all that it includes, into a `Procedure`."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping as AbstractMapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from sayso.procedure.model import END, Before, Place, Procedure, Step
from sayso.procedure.placeholders import PLACEHOLDER
from sayso.procedure.problems import Problem, ProcedureError, in_file_order, write_one_of
from sayso.procedure.questions import named_in
from sayso.procedure.quizzes import asked_in
from sayso.procedure.resolving import Resolved, parts, resolve_step
from sayso.procedure.source import ProcedureHeader
from sayso.procedure.texts import Texts
from sayso.procedure.unfold import Files, StepNode, unfold
from sayso.procedure.validating import validated
from sayso.procedure.word_sounds import wrongly_said
from sayso.procedure.yaml_nodes import Mapping, Node, Scalar, Sequence

#: The branch target that means the step written next.
NEXT = "next"


@dataclass(frozen=True)
class Reading:
    """What came of reading a file: the procedure when it can be run, and every problem found.

    `steps` holds the steps that could be resolved, with their nodes, even when others could not.
    """

    procedure: Procedure | None
    problems: list[Problem]
    steps: list[Resolved] = field(default_factory=list)
    root: Mapping | None = None
    folder: Path = Path()
    #: answers that steps ask for in which something else is wrong
    unread: frozenset[str] = frozenset()
    #: every step is there, though perhaps not right: no file is missing, no loop broken
    all_steps_seen: bool = False

    @property
    def errors(self) -> list[Problem]:
        return [problem for problem in self.problems if problem.severity == "error"]


def read(
    path: str | Path, *, language: str = "en", parameters: AbstractMapping[str, str] | None = None
) -> Procedure:
    """The procedure in file `path`, in `language`, with its parameters filled in.

    Raises ProcedureError with every error found, each with file, line and column.
    """
    reading = read_all(path, language=language, parameters=parameters)
    if reading.procedure is None:
        raise ProcedureError(reading.errors)
    return reading.procedure


def read_kept(
    texts: AbstractMapping[str, str],
    main: str,
    *,
    language: str = "en",
    parameters: AbstractMapping[str, str] | None = None,
) -> Procedure:
    """A procedure from texts kept elsewhere (`Procedure.texts`), as it was; no file is looked at.

    Raises ProcedureError.
    """
    reading = read_all_kept(texts, main, language=language, parameters=parameters)
    if reading.procedure is None:
        raise ProcedureError(reading.errors)
    return reading.procedure


def read_all_kept(
    texts: AbstractMapping[str, str],
    main: str,
    *,
    language: str = "en",
    parameters: AbstractMapping[str, str] | None = None,
) -> Reading:
    """Like `read_kept`, but never raises."""
    kept = {name: text.encode("utf-8") for name, text in texts.items()}
    return _read(Path(main), Files(Path(), kept, only_kept=True), language, parameters)


def read_all(
    path: str | Path, *, language: str = "en", parameters: AbstractMapping[str, str] | None = None
) -> Reading:
    """Like `read`, but never raises: the problems are in the result."""
    path = Path(path)
    path = path if path.name else path.resolve()  # '.' has no name to be told by
    return _read(path, Files(path.parent), language, parameters)


def parameter_names(path: str | Path) -> frozenset[str]:
    """The parameters that file `path` declares; none when it cannot be read (`read` then tells why)."""
    path = Path(path)
    root = Files(path.parent).load(path.name, None, [])
    declared = root.get("parameters") if isinstance(root, Mapping) else None
    return frozenset(declared.entries) if isinstance(declared, Mapping) else frozenset()


def _read(path: Path, files: Files, language: str, parameters: AbstractMapping[str, str] | None) -> Reading:
    problems: list[Problem] = []
    root = files.load(path.name, None, problems)
    breaks_off = False
    if root is None:
        if not problems:
            problems.append(
                Problem(Place(path.name, 1, 1), "the file is empty", "start with 'procedure: an-id'")
            )
        root = files.begun(path.name)
        if root is None or "procedure" not in root.entries:
            return Reading(None, _shown_from(path, in_file_order(problems)))
        breaks_off = True
    if not isinstance(root, Mapping):
        problems.append(
            Problem(root.place, "the file must be 'key: value' lines", "start with 'procedure: an-id'")
        )
        return Reading(None, _shown_from(path, in_file_order(problems)))
    if "shared" in root.entries and "procedure" not in root.entries:
        problems.append(
            Problem(
                root.place, "this file holds shared steps, not a procedure", "read a file that includes it"
            )
        )
        return Reading(None, _shown_from(path, in_file_order(problems)))
    header = validated(ProcedureHeader, root, problems, without=frozenset({"steps"}))
    if breaks_off:  # what seems to be missing may stand behind the break
        problems = [p for p in problems if p.place != root.place or not p.what.endswith("is missing")]
    problems.extend(wrongly_said(root.get("words")))
    own = header.language if header else _language(root.text("language"), language)
    texts = Texts(language, own, tuple(header.translations) if header else ())
    scope = _scope(header, root, parameters or {}, problems)
    told = len(problems)
    sources = unfold(root.get("steps"), root, scope, files, path.name, problems)
    all_steps_seen = (
        not breaks_off
        and not any(
            problem.severity == "error" and problem.check != PLACEHOLDER for problem in problems[told:]
        )
        and not any("<" in (source.node.text("id") or "") for source in sources)
    )
    resolved = [one for source in sources if (one := resolve_step(source, texts, problems)) is not None]
    problems.extend(_repeated_ids(resolved))
    unread = _ids_of_unread(sources, resolved)
    problems.extend(_repeated_among_unread(unread, resolved))
    if all_steps_seen:  # a step that could not be read has a name all the same
        problems.extend(_unknown_targets(resolved, sources, unread))
    title = texts.spoken(root.get("title"))
    defers_to = texts.spoken(root.get("defers_to"))
    before = _before(root.get("before"), texts, problems)
    problems.extend(texts.problems)
    problems = _without_what_follows(problems)
    ordered = _shown_from(path, in_file_order(problems))
    steps = _with_targets_resolved(resolved)
    procedure = None
    if header is not None and steps and not any(problem.severity == "error" for problem in ordered):
        procedure = Procedure(
            id=header.procedure,
            title=title,
            revision=header.revision,
            steps=tuple(asked_in(header.procedure, one.step) for one in steps),
            text_hash=hashlib.sha256(b"".join(files.read.values())).hexdigest(),
            file=str(path),
            before=before,
            language=language,
            words=tuple((word, sound or "") for word, sound in header.words.items()),
            defers_to=defers_to,
            ask_first=header.predict,
            texts=tuple((name, data.decode("utf-8")) for name, data in files.read.items()),
        )
    return Reading(
        procedure,
        ordered,
        steps,
        root,
        path.parent,
        _answers_unread(sources, resolved),
        all_steps_seen,
    )


def _without_what_follows(problems: list[Problem]) -> list[Problem]:
    """A text that could not be filled in is told once, and not as an id or a number of a wrong form too."""
    unfilled = {problem.place for problem in problems if problem.check == PLACEHOLDER}
    return [p for p in problems if p.check == PLACEHOLDER or p.place not in unfilled]


def _language(written: str | None, asked: str) -> str:
    """Of a head in which something is wrong: 'English' is told once, not at every text that has no 'en'."""
    return "en" if written is None else written if re.fullmatch("[a-z]{2,3}", written) else asked


def _shown_from(path: Path, problems: list[Problem]) -> list[Problem]:
    """Places with the path as it was given, so that an editor can open them."""
    folder = path.parent
    if folder == Path():
        return problems
    return [
        replace(p, place=Place(str(folder / p.place.file), p.place.line, p.place.column)) for p in problems
    ]


def _scope(
    header: ProcedureHeader | None,
    root: Mapping,
    given: AbstractMapping[str, str],
    problems: list[Problem],
) -> dict[str, str | dict[str, str]]:
    declared = root.get("parameters")
    place = declared.place if declared is not None else root.place
    known = dict(header.parameters) if header else {}
    for name in given:
        if name not in known:
            problems.append(Problem(place, f"there is no parameter '{name}'", write_one_of(name, known)))
    scope: dict[str, str | dict[str, str]] = {}
    for name, default in known.items():
        value = given.get(name, default)
        if value is None:
            problems.append(
                Problem(
                    place,
                    f"the parameter '{name}' needs a value",
                    f"give it: --set {name}=..., or write a default here",
                )
            )
            value = ""
        scope[name] = value
    return scope


def _before(node: object, texts: Texts, problems: list[Problem]) -> Before:
    if not isinstance(node, Mapping):
        return Before()
    return Before(
        tools=texts.spoken_list(node.get("tools")),
        parts=parts(node.get("parts"), texts, problems),
        conditions=texts.spoken_list(node.get("conditions")),
    )


def _came_twice(earlier: Resolved, one: Resolved, place: Place) -> Problem:
    """The same lines gave the same id again: an item listed twice, an include written twice, or an id that
    does not carry its loop item."""
    pairs = zip(earlier.source.came_by, one.source.came_by, strict=False)
    (before, was), (here, now) = next(
        ((a, b) for a, b in pairs if a[0] != b[0]), ((place, ""), (place, "another"))
    )
    if was is None or now is None:
        return Problem(
            here,
            f"the step id '{one.step.id}' comes from here and from the include in line {before.line}",
            "remove one, or give each another value under 'with' that its ids carry",
        )
    if was == now:
        return Problem(
            here, f"this item stands in the list twice (first in line {before.line})", "remove one"
        )
    return Problem(
        place,
        f"the step id '{one.step.id}' comes up in every round",
        f"write '{one.step.id}-<{one.source.loop}>'",
    )


def _repeated_ids(steps: list[Resolved]) -> list[Problem]:
    found: list[Problem] = []
    first: dict[str, Resolved] = {}
    kinds: dict[str, Resolved] = {}
    told: set[Place] = set()
    for one in steps:
        step = one.step
        earlier = first.setdefault(step.id, one)
        place = one.node("id").place
        if earlier is not one:
            if earlier.source.node.place == step.place:
                again = _came_twice(earlier, one, place)
                if again.place not in told:  # one include written twice is one slip, however many its steps
                    found.append(again)
                told.add(again.place)
            else:
                line = earlier.node("id").place.line
                found.append(
                    Problem(
                        place,
                        f"the step id '{step.id}' is used twice (first in line {line})",
                        "give it another id",
                    )
                )
        elif step.id in (NEXT, END):
            found.append(Problem(place, f"a step cannot be called '{step.id}'", "give it another id"))
        same = kinds.setdefault(step.ask.name, one)
        if same is one or same.step.id == step.id:
            continue
        at = one.node("ask", step.ask.kind).place
        if same.source.node.place == step.place:
            fill = f"<{one.source.loop}>" if one.source.loop else "<parameter>"
            found.append(
                Problem(
                    at,
                    f"the answer '{step.ask.name}' is overwritten in every round",
                    f"write '{step.ask.name}_{fill}'",
                )
            )
        elif same.step.ask.kind != step.ask.kind:
            found.append(
                Problem(
                    at,
                    f"the answer '{step.ask.name}' is of another kind in line {same.step.place.line} "
                    f"({same.step.ask.kind})",
                    "give it another name",
                )
            )
    return found


def _ids_of_unread(sources: list[StepNode], resolved: list[Resolved]) -> list[Scalar]:
    """The names of the steps in which something else is wrong."""
    read = {id(one.source) for one in resolved}
    found = [source.node.get("id") for source in sources if id(source) not in read]
    return [node for node in found if isinstance(node, Scalar) and node.text]


def _as_meant(name: str) -> tuple[str, str]:
    """A name as it is written, and as it should be: 'Pin Out' is told already, 'pin-out' is not lost."""
    return name, re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def _repeated_among_unread(unread: list[Scalar], resolved: list[Resolved]) -> list[Problem]:
    lines = {one.step.id: one.node("id").place for one in resolved}
    found: list[Problem] = []
    for name in unread:
        first = lines.setdefault(name.text, name.place)
        if first != name.place:
            earlier, later = sorted((first, name.place), key=lambda place: (place.line, place.column))
            found.append(
                Problem(
                    later,
                    f"the step id '{name.text}' is used twice (first in line {earlier.line})",
                    "give it another id",
                )
            )
    return found


def _unknown_targets(steps: list[Resolved], sources: list[StepNode], unread: list[Scalar]) -> list[Problem]:
    """Also of the steps in which something else is wrong."""
    names = (*(one.step.id for one in steps), *(name for one in unread for name in _as_meant(one.text)))
    ids = dict.fromkeys((*names, NEXT, END))  # in file order
    # who is told what may be written is told a name that a step can have: 'pin-out', not 'Pin Out'
    offered = [name for name in ids if _as_meant(name)[1] == name]
    read = {id(one.source) for one in steps}
    written = [(target, one.node(*path).place) for one in steps for target, path in targets_of(one.step)]
    for source in sources:
        if id(source) not in read:
            written += [(scalar.text, scalar.place) for scalar in _written_targets(source.node)]
    return [
        Problem(place, f"there is no step '{target}'", write_one_of(target, offered), check="targets")
        for target, place in written
        if target not in ids
    ]


def _written_targets(step: Mapping) -> list[Scalar]:
    then = step.get("then")
    found: list[Node | None] = [step.get("out_of_limits"), then]
    if isinstance(then, Mapping):
        found += [entry.value for entry in then.entries.values()]
    if isinstance(then, Sequence):
        found += [line.get(key) for line in then.items if isinstance(line, Mapping) for key in _LEADS]
    return [node for node in found if isinstance(node, Scalar) and node.text]


#: keys of a line of `then` under which a target stands
_LEADS = ("go", "otherwise")


def _answers_unread(sources: list[StepNode], steps: list[Resolved]) -> frozenset[str]:
    """What the steps in which something else is wrong ask for: a condition may use it."""
    read = {id(one.source) for one in steps}
    found: set[str] = set()
    for source in sources:
        if id(source) not in read:
            named = named_in(source.node.get("ask"))
            found |= set(named) or {_as_meant(source.node.text("id") or "")[1]}
    return frozenset(name.replace("-", "_") for name in found)


def targets_of(step: Step) -> list[tuple[str, tuple[str | int, ...]]]:
    """Every target that a step names, with the path of its node within the step."""
    found: list[tuple[str, tuple[str | int, ...]]] = []
    then = step.then
    for number, case in enumerate(then.cases):
        path: tuple[str | int, ...] = ("then", number, "go") if case.is_condition else ("then", case.when)
        found.append((case.target, path))
    if then.otherwise is not None:
        listed = bool(then.cases) and then.cases[0].is_condition
        found.append(
            (then.otherwise, ("then", len(then.cases), "otherwise") if listed else ("then", "otherwise"))
        )
    if step.out_of_limits:
        found.append((step.out_of_limits, ("out_of_limits",)))
    return found


def _with_targets_resolved(steps: list[Resolved]) -> list[Resolved]:
    found: list[Resolved] = []
    for number, one in enumerate(steps):
        following = steps[number + 1].step.id if number + 1 < len(steps) else END
        step = one.step
        named = [target for target, _ in targets_of(step)]
        if NEXT in named:

            def real(target: str, following: str = following) -> str:
                return following if target == NEXT else target

            then = replace(
                step.then,
                cases=tuple(replace(case, target=real(case.target)) for case in step.then.cases),
                otherwise=real(step.then.otherwise) if step.then.otherwise is not None else None,
            )
            step = replace(
                step, then=then, out_of_limits=real(step.out_of_limits) if step.out_of_limits else ""
            )
            one = replace(one, step=step)
        found.append(one)
    return found
