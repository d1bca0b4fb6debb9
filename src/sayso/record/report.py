"""The job report: one HTML file with everything in it, made from the record alone."""

from __future__ import annotations

import base64
import glob
import json
import os
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import tzinfo
from pathlib import Path
from typing import Any

import psutil
from jinja2 import Environment, PackageLoader, StrictUndefined

from sayso.procedure.conditions_in_words import told_with_units
from sayso.procedure.kept_files import kept
from sayso.record import wording
from sayso.record.errors import RecordError
from sayso.record.gauge import gauge
from sayso.record.names import Pseudonyms, anonymised, whole, without_codes
from sayso.record.path_picture import path_picture
from sayso.record.place import store_option
from sayso.record.seal import Seal, seals_of
from sayso.record.sign_off import who_may_sign
from sayso.record.store import Store
from sayso.record.story import LONGEST_AT_A_STEP_MS, Deviation, Given, Note, Story
from sayso.record.story_telling import story_of
from sayso.record.verify import JobVerdict, verify_job


@dataclass(frozen=True, slots=True)
class ReportOptions:
    """What goes in. `audio`: the notes' sound (personal data, and most of the file's size).
    `text`: the exact procedure text. `anonymous`: names become 'person 1'..., and no audio.
    `trusted_keys`: public keys whose seals count. `zone`: the time zone of the clock times, None for
    this machine's."""

    audio: bool = True
    text: bool = True
    anonymous: bool = False
    trusted_keys: tuple[str, ...] = ()
    zone: tzinfo | None = None


@dataclass(frozen=True, slots=True)
class _Deviated:
    deviation: Deviation
    step_text: str


def render(store: Store, job: str, options: ReportOptions | None = None) -> str:
    """The report of a job as HTML; an open job is reported as far as it is.

    Raises RecordError when the job is unknown. A record that is not sound is reported, and says so first.
    """
    options = options or ReportOptions()
    entries = store.entries(job)
    if not entries:
        store.job(job)  # raises with the reason
    people = Pseudonyms()
    if options.anonymous:
        entries = anonymised(entries, people, who_may_sign(store, job))
    story = story_of(entries)
    verdict = verify_job(store, job, trusted_keys=options.trusted_keys)
    outline = _outline(store, story)
    return render_story(
        story,
        outline,
        verdict,
        seals_of(store, job),
        options,
        _Sounds(store, job, options),
        _text_to_show(store, story, job, people if options.anonymous else None) if options.text else "",
        store_option(store, hidden=options.anonymous),
    )


class _Sounds:
    """Gives a note's audio as a data URI, '' when it is left out or no longer kept."""

    def __init__(self, store: Store, job: str, options: ReportOptions) -> None:
        self._store, self._job, self._wanted = store, job, options.audio

    def __call__(self, note: Note) -> str:
        clip = self._store.clip(self._job, note.clip) if self._wanted and note.clip else None
        return f"data:{clip[0]};base64,{base64.b64encode(clip[1]).decode()}" if clip else ""


def render_story(
    story: Story,
    outline: Mapping[str, Any],
    verdict: JobVerdict,
    seals: Iterable[Seal],
    options: ReportOptions,
    sound: Any,
    text: str,
    where: str = "",
) -> str:
    """The HTML of a story; `sound` gives the data URI of a note, `where` is the --store of its record."""
    steps: dict[str, Mapping[str, Any]] = {str(step["id"]): step for step in outline.get("steps", [])}

    def step_text(name: str) -> str:
        return str(steps[name]["say"]) if name in steps else name

    def torque_target(given: Given) -> str:
        """The target as the procedure states it, and in newton metres when that is another unit."""
        if given.target is None:
            return ""
        here = f"{wording.number(given.target)} {wording.unit_symbol(given.unit)}"
        stated = str((steps.get(given.step) or {}).get("ask", {}).get("unit", given.unit))
        if stated in ("", given.unit):
            return here
        converted = wording.in_unit(given.target, given.unit, stated)
        return (
            here
            if converted is None
            else f"{wording.number(converted)} {wording.unit_symbol(stated)} = {here}"
        )

    units = _units_of_answers(steps)

    def why_passed(why: str) -> str:
        """The record keeps the condition as it is written; whoever reads a report has never seen CEL."""
        before, written, condition = why.partition("does not apply: ")
        try:
            return f"{before}{written}{told_with_units(condition, units)}" if condition else why
        except Exception:  # a record outlives the language of its conditions: show what was recorded
            return why

    def corrected(value: Any, name: str) -> str:
        """A number with the unit of its question: 29.83 N·m stands where 22 foot pounds were taken back."""
        ask = (steps.get(name) or {}).get("ask", {})
        told = wording.plain(value)
        if isinstance(value, bool) or not isinstance(value, int | float):
            return told
        return f"{told}{units.get(str(ask.get('name')), '')}"

    def tools(name: str) -> str:
        return ", ".join(map(str, (steps.get(name) or {}).get("tools", ())))

    environment = Environment(
        loader=PackageLoader("sayso.record"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    zone = options.zone
    began = story.started_ms or story.opened_ms
    environment.filters |= {
        "clock": lambda ms: wording.clock(ms, zone),
        "at": lambda ms: wording.at(ms, zone, began),
        "day": lambda ms: wording.day(ms, zone),
        "moment": lambda ms: wording.moment(ms, zone),
        "duration": wording.duration,
        "value": wording.value_text,
        "words_for_number": wording.words_for_number,
        "limits": wording.limits_text,
        "number": wording.number,
        "unit": wording.unit_symbol,
        "gauge": gauge,
        "deviation": wording.deviation_text,
        "why_passed": why_passed,
        "corrected": corrected,
    }

    def by(seq: int) -> str:
        """Who did it, where that may be asked: a job in one person's hands says so once, at the top."""
        return (story.person_at(seq) or "not named") if story.taken_over else ""

    done_by = [story.person or "not named"]
    done_by += [f"from {wording.at(h.since_ms, zone, began)} {h.person}" for h in story.taken_over]
    answers = story.answers
    working = sum(visit.working_ms or 0 for visit in story.visits)
    return environment.get_template("job_report.html.j2").render(
        story=story,
        steps=steps,
        by=by,
        done_by="; ".join(done_by),
        step_text=step_text,
        torque_target=torque_target,
        tools=tools,
        path=path_picture(story, outline),
        serials=[given for given, _ in _last_of_each(answers, "serial")],
        torques=_last_of_each(answers, "torque"),
        measures=_last_of_each(answers, "measure"),
        deviations=[_Deviated(d, step_text(d.step)) for d in story.deviations],
        counted=_counted(story),
        sections=_sections(story, steps),
        working_ms=working,
        longest_ms=LONGEST_AT_A_STEP_MS,
        verdict=verdict,
        seals=list(seals),
        trusted=set(options.trusted_keys),
        defers_to=str(outline.get("defers_to", "")),
        sound=sound,
        text=text,
        anonymous=options.anonymous,
        where=where,
    )


def _units_of_answers(steps: Mapping[str, Mapping[str, Any]]) -> dict[str, str]:
    """' mm' for each answer's name, as `told_with_units` wants it: a torque counts in newton metres."""
    found = {}
    for ask in (step["ask"] for step in steps.values() if "ask" in step):
        symbol = wording.unit_symbol("N.m" if ask["kind"] == "torque" else str(ask.get("unit", "")))
        found[str(ask["name"])] = f" {symbol}" if symbol else ""
    return found


def _counted(story: Story) -> str:
    """'2 stand without a signature, 1 is signed off, 3 were put right.'"""
    bare = len(story.unsigned_deviations)
    signed = len(story.open_deviations) - bare
    right = len(story.deviations) - bare - signed
    parts = [
        (bare, "stands without a signature", "stand without a signature"),
        (signed, "is signed off", "are signed off"),
        (right, "was put right", "were put right"),
    ]
    told = [f"{number} {one if number == 1 else many}" for number, one, many in parts if number]
    return f"{', '.join(told)}." if told else ""


def write_report(store: Store, job: str, path: Path, options: ReportOptions | None = None) -> Path:
    """Write the report beside and rename it into place: a crash leaves the old one or the new one."""
    html = render(store, job, options)
    return write_whole(path, html.encode("utf-8"))


def write_whole(given: Path, content: bytes) -> Path:
    """A file that is either all there or not at all. Raises RecordError when it cannot be written, or when
    a record or a procedure lies there.

    A kill in between leaves the old file, and what was written beside it is taken away at the next try.
    """
    if there := kept(given):
        raise RecordError(f"{given} is {there}: it stays as it is; give another name")
    try:
        if given.exists() and not given.is_file():  # a pipe or a device: renamed over, it would be gone
            given.write_bytes(content)
            return given
        path = given.resolve()  # what a link leads to is written, and the link stays
        _clear_away(path)
        handle, name = tempfile.mkstemp(
            dir=path.parent, prefix=f".{path.name}.{os.getpid()}-", suffix=_UNFINISHED
        )
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            umask = os.umask(0)
            os.umask(umask)
            os.chmod(name, 0o666 & ~umask)
            os.replace(name, path)
        except BaseException:
            os.unlink(name)
            raise
    except OSError as error:
        raise RecordError(f"{given}: cannot be written: {error.strerror}") from None
    return given


#: End of the name of a file that is still being written; before it stands the number of the process.
_UNFINISHED = ".unfinished"


def _clear_away(path: Path) -> None:
    """Remove what a killed program left beside `path`; what a living one is writing stays."""
    for left in path.parent.glob(f".{glob.escape(path.name)}.*{_UNFINISHED}"):
        writer = left.name.removeprefix(f".{path.name}.").partition("-")[0]
        if writer.isdigit() and not psutil.pid_exists(int(writer)):
            left.unlink(missing_ok=True)


def _outline(store: Store, story: Story) -> Mapping[str, Any]:
    if not story.outline_sha256:
        return {}
    try:
        outline: Mapping[str, Any] = json.loads(store.document(story.outline_sha256))
    except RecordError:
        return {}  # the verdict tells that it is missing
    return outline


def _text(store: Store, story: Story) -> str:
    try:
        return store.document(story.text_sha256)
    except RecordError:
        return ""


def _text_to_show(store: Store, story: Story, job: str, people: Pseudonyms | None) -> str:
    """The procedure text without codes, and with `people` without the names that stand beside them."""
    signers = who_may_sign(store, job)
    text = without_codes(_text(store, story), [code for code, *_ in signers])
    if people is None:
        return text
    for name in sorted({name for _, name, _ in signers}, key=len, reverse=True):
        text = whole(name).sub(people.of(name), text)
    return text


def _last_of_each(answers: Iterable[Given], kind: str) -> list[tuple[Given, int]]:
    """Per question its last answer and how often it was answered: a loop asks the same thing again."""
    found: dict[tuple[str, str], tuple[Given, int]] = {}
    for given in answers:
        if given.kind == kind:
            key = (given.step, given.name)
            found[key] = (given, found[key][1] + 1 if key in found else 1)
    return list(found.values())


def _sections(story: Story, steps: Mapping[str, Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Time by section of the procedure, in the order in which they were come to."""
    found: dict[str, dict[str, Any]] = {}
    for visit in story.visits:
        name = str((steps.get(visit.step) or {}).get("section", "")) or "Job"
        section = found.setdefault(name, {"name": name, "steps": 0, "ms": 0, "again": 0})
        section["steps"] += 1
        section["ms"] += visit.working_ms or 0
        section["again"] += visit.no_matches + visit.no_inputs
    return list(found.values())
