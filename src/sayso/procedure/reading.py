"""Reading a procedure file, and all that it includes, into a `Procedure`."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping as AbstractMapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from sayso.procedure.model import Before, Place, Procedure
from sayso.procedure.other_letters import texts_in_other_letters
from sayso.procedure.placeholders import PLACEHOLDER
from sayso.procedure.problems import Problem, ProcedureError, in_file_order, write_one_of
from sayso.procedure.quizzes import asked_in
from sayso.procedure.resolving import Resolved, parts, resolve_step
from sayso.procedure.source import ProcedureHeader
from sayso.procedure.step_names import answers_unread, ids_of_unread, repeated_among_unread, repeated_ids
from sayso.procedure.targets import unknown_targets, with_targets_resolved
from sayso.procedure.texts import Texts
from sayso.procedure.unfold import Files, unfold
from sayso.procedure.validating import validated
from sayso.procedure.word_sounds import wrongly_said
from sayso.procedure.yaml_nodes import Mapping, Node


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
    problems.extend(repeated_ids(resolved))
    if not files.only_kept:  # a job that was begun so goes on
        problems.extend(texts_in_other_letters(resolved))
    unread = ids_of_unread(sources, resolved)
    problems.extend(repeated_among_unread(unread, resolved))
    if all_steps_seen:  # a step that could not be read has a name all the same
        problems.extend(unknown_targets(resolved, sources, unread))
    title = texts.spoken(root.get("title"))
    defers_to = texts.spoken(root.get("defers_to"))
    before = _before(root.get("before"), texts, problems)
    problems.extend(texts.problems)
    problems = _without_what_follows(problems)
    ordered = _shown_from(path, in_file_order(problems))
    steps = with_targets_resolved(resolved)
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
        answers_unread(sources, resolved),
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
    known = dict(header.parameters) if header else _declared(declared)
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


def _declared(parameters: Node | None) -> dict[str, str | None]:
    """The parameters of a head in which something else is wrong: steps that name one are not to blame."""
    if not isinstance(parameters, Mapping):
        return {}
    return {name: parameters.text(name) or None for name in parameters.entries}


def _before(node: object, texts: Texts, problems: list[Problem]) -> Before:
    if not isinstance(node, Mapping):
        return Before()
    return Before(
        tools=texts.spoken_list(node.get("tools")),
        parts=parts(node.get("parts"), texts, problems),
        conditions=texts.spoken_list(node.get("conditions")),
    )
