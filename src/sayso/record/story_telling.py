"""The story of a job told from its entries alone, in the order in which they were recorded."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from sayso.record.chain import Entry
from sayso.record.clock_jumps import jumps
from sayso.record.errors import NotARecordError
from sayso.record.story import (
    CautionGiven,
    Correction,
    Deviation,
    Given,
    InHand,
    Note,
    NotMet,
    Pause,
    SignedOff,
    Story,
    Tool,
    Visit,
    Witnessed,
)

#: An answer is recorded at the yes behind its read-back; what was said between is looked at no further back.
_LINES = 20


def story_of(entries: Iterable[Entry]) -> Story:
    """Read the entries of one job, first to last. Unknown kinds are passed over: newer ones may come."""
    telling: _Telling | None = None
    for entry in entries:
        if telling is None:
            telling = _Telling(_opened(entry))
        telling.take(entry)
    if telling is None:
        raise NotARecordError("a job without entries has no story: they were taken out; see `sayso verify`")
    return telling.finished()


def _opened(entry: Entry) -> Story:
    data = entry.data if entry.kind == "opened" else {}
    meta: Mapping[str, Any] = data.get("meta", {})
    return Story(
        job=entry.job,
        opened_ms=entry.at_ms,
        procedure=str(data.get("procedure", "")),
        title=str(data.get("title", "")),
        revision=int(data.get("revision", 0)),
        procedure_hash=str(data.get("procedure_hash", "")),
        text_sha256=str(data.get("text_sha256", "")),
        outline_sha256=str(data.get("outline_sha256", "")),
        machine=str(meta.get("machine", "")),
        person=str(meta.get("person", "")),
        bay=str(meta.get("bay", "")),
        rehearsal=bool(meta.get("rehearsal")),
    )


class _Telling:
    """The story so far; lives while the entries are read."""

    def __init__(self, story: Story) -> None:
        self.story = story
        self.by_number: dict[int, Visit] = {}
        self.at: Visit | None = None
        self.told: dict[tuple[str, Any], CautionGiven] = {}
        self.held: tuple[int, str] | None = None
        #: since when a microphone or loudspeaker is away, and which
        self.lost: tuple[int, str] | None = None
        #: since when nobody could work, for one of the two
        self.still_ms: int | None = None
        self.signed: dict[int, SignedOff] = {}
        self.ended_seq = 0
        self.commit_ms = self.commit_before_ms = story.opened_ms
        #: what was said or pressed last, in lower case, and whether it came by keys
        self.lines: deque[tuple[str, bool]] = deque(maxlen=_LINES)

    def take(self, entry: Entry) -> None:
        story = self.story
        if entry.kind == "event":
            self.commit_before_ms, self.commit_ms = self.commit_ms, entry.at_ms
            if isinstance(entry.data, Mapping):
                self._remember_line(entry.data)
        story.entries += 1
        story.last_ms, story.head = entry.at_ms, entry.hash
        reader = getattr(self, f"_{entry.kind}", None)
        if reader is not None and entry.kind not in ("event", "opened"):
            reader(entry.data, entry)

    def finished(self) -> Story:
        story = self.story
        for number, deviation in enumerate(story.deviations):
            story.deviations[number] = self._settled(deviation)
        if story.ended_ms is not None and story.outcome != "complete":
            why = story.outcome + (f" ({story.reason})" if story.reason else "")
            step = self.at.step if self.at else ""
            unfinished = Deviation("not finished", step, story.ended_ms, why, seq=self.ended_seq)
            story.deviations.insert(0, self._settled(unfinished))
        if self.held is not None:
            story.pauses.append(Pause("hold", self.held[0], None, self.held[1]))
        if self.lost is not None:
            story.pauses.append(Pause("device", self.lost[0], None, self.lost[1]))
        return story

    def _settled(self, deviation: Deviation) -> Deviation:
        deviation = replace(deviation, signed=self.signed.get(deviation.seq))
        given = deviation.given
        if given is None:
            visit = self.by_number.get(deviation.visit) if deviation.visit is not None else None
            done_after_all = visit is not None and not visit.skipped and visit.answer is not None
            return replace(deviation, put_right=visit.answer) if visit and done_after_all else deviation
        later = [
            a
            for v in self.story.visits
            for a in v.answers
            if a.name == given.name and a.step == given.step and a.seq > given.seq and not a.replaced
        ]
        if later and later[-1].within:
            return replace(deviation, put_right=later[-1])
        return deviation

    def _remember_line(self, event: Mapping[str, Any]) -> None:
        if event.get("type") == "Heard":
            words = event.get("words")
            line = " ".join(map(str, words)) if isinstance(words, list | tuple) else ""
            self.lines.append((line.lower(), bool(event.get("typed"))))
        elif event.get("type") == "KeyPressed":
            self.lines.append((str(event.get("key", "")).replace("_", " "), True))

    def _by_keys(self, said: str) -> bool:
        """Whether an answer was typed: told by the line that it ends ("no, 24"), not by the yes behind it."""
        ends = f" {said.lower()}"
        return next(
            (keys for line, keys in reversed(self.lines) if said and f" {line}".endswith(ends)), False
        )

    # one method for each kind of entry

    def _started(self, data: Mapping[str, Any], entry: Entry) -> None:
        story = self.story
        story.started_ms = entry.at_ms
        for name in ("machine", "person", "bay", "level", "wrench"):
            setattr(story, name, str(data.get(name, "") or getattr(story, name)))

    def _step_entered(self, data: Mapping[str, Any], entry: Entry) -> None:
        if self.at is not None and self.at.left_ms is None:
            self.at.left_ms = entry.at_ms
        number = int(data.get("visit", len(self.story.visits)))
        if data.get("again") and number in self.by_number:
            # Come back to: what was done there stands until it is answered anew. The time elsewhere, on
            # other steps or with the program away, is not this step's.
            self.at = self.by_number[number]
            if self.at.left_ms is not None:
                self.at.held_ms += max(0, entry.at_ms - self.at.left_ms)
                self.at.left_ms = None
            return
        visit = Visit(str(data.get("step", "")), number, entry.at_ms)
        self.story.visits.append(visit)
        self.by_number[number] = visit
        self.at = visit

    def _visit_of(self, data: Mapping[str, Any], entry: Entry) -> Visit:
        number = data.get("visit")
        if isinstance(number, int) and number in self.by_number:
            return self.by_number[number]
        if self.at is None:
            self._step_entered({"step": data.get("step", "")}, entry)
        assert self.at is not None
        return self.at

    def _answer(self, data: Mapping[str, Any], entry: Entry) -> None:
        visit = self._visit_of(data, entry)
        given = _given(data, entry)
        given.by_keys = self._by_keys(given.said)
        for earlier in visit.answers:
            earlier.replaced = True
        visit.answers.append(given)
        visit.skipped = ""
        visit.left_ms = entry.at_ms
        if given.kind == "note" and given.said:
            # Typed: a spoken one has an entry of its own, with its sound.
            note = Note(
                given.step, given.name, entry.at_ms, "", 0.0, str(given.value or given.said), entry.seq
            )
            self.story.notes.append(note)
            visit.notes.append(note)

    def _answer_changed(self, data: Mapping[str, Any], entry: Entry) -> None:
        before = data.get("before") or {}
        self.story.corrections.append(
            Correction(
                str(data.get("step", "")),
                str(data.get("name", "")),
                entry.at_ms,
                before.get("value", before.get("skipped")),
                data.get("value"),
                entry.seq,
            )
        )
        self._answer(data, entry)

    def _answer_undone(self, data: Mapping[str, Any], entry: Entry) -> None:
        visit = self._visit_of(data, entry)
        for given in visit.answers:
            given.replaced = True
        was = data.get("was") or {}
        self.story.corrections.append(
            Correction(
                str(data.get("step", "")),
                str(data.get("name", "")),
                entry.at_ms,
                was.get("value", was.get("skipped")),
                None,
                entry.seq,
            )
        )
        visit.skipped = ""
        visit.left_ms = None

    def _deviation(self, data: Mapping[str, Any], entry: Entry) -> None:
        given = _given(data, entry)
        given.by_keys = self._by_keys(given.said)
        self.story.deviations.append(
            Deviation("out of limits", given.step, entry.at_ms, str(given.name), given, seq=entry.seq)
        )

    def _not_met(self, data: Mapping[str, Any], entry: Entry) -> None:
        """It speaks of the value that was recorded last at this step."""
        step = str(data.get("step", ""))
        for at, deviation in reversed(list(enumerate(self.story.deviations))):
            if deviation.kind == "out of limits" and deviation.step == step:
                handed = NotMet(
                    entry.seq,
                    entry.at_ms,
                    str(data.get("reason", "")),
                    str(data.get("released_by", "")),
                    str(data.get("role", "")),
                )
                self.story.deviations[at] = replace(deviation, not_met=handed)
                return

    def _skipped(self, data: Mapping[str, Any], entry: Entry) -> None:
        visit = self._visit_of(data, entry)
        visit.skipped = str(data.get("reason", "")) or "no reason given"
        visit.skipped_seq = entry.seq
        visit.left_ms = entry.at_ms
        for given in visit.answers:
            given.replaced = True
        self.story.deviations.append(
            Deviation(
                "skipped",
                str(data.get("step", "")),
                entry.at_ms,
                str(data.get("reason", "")),
                seq=entry.seq,
                visit=visit.number,
            )
        )

    def _undone(self, data: Mapping[str, Any], entry: Entry) -> None:
        if data.get("how") == "kept":
            self.story.deviations.append(
                Deviation(
                    "kept", str(data.get("step", "")), entry.at_ms, str(data.get("reason", "")), seq=entry.seq
                )
            )

    def _tool(self, data: Mapping[str, Any], entry: Entry) -> None:
        tool = Tool(
            str(data.get("tool", "")), str(data.get("until", "")), bool(data.get("overdue")), entry.at_ms
        )
        # one that is told of again (its day passed during the job) is one tool
        self.story.tools = [t for t in self.story.tools if t.name != tool.name] + [tool]
        if tool.overdue:
            what = f"{tool.name}, {tool.until}"
            self.story.deviations.append(Deviation("tool overdue", "", entry.at_ms, what, seq=entry.seq))

    def _caution_told(self, data: Mapping[str, Any], entry: Entry) -> None:
        if data.get("again"):
            return
        key = (str(data.get("step", "")), data.get("caution"))
        given = CautionGiven(key[0], str(data.get("level", "")), str(data.get("text", "")), entry.at_ms)
        self.told[key] = given
        self.story.cautions.append(given)

    def _caution_acknowledged(self, data: Mapping[str, Any], entry: Entry) -> None:
        key = (str(data.get("step", "")), data.get("caution"))
        told = self.told.get(key)
        said = str(data.get("said", ""))
        if told is None:  # tools, parts and conditions before the job
            things = [*data.get("tools", ()), *data.get("parts", ()), *data.get("conditions", ())]
            self.story.cautions.append(
                CautionGiven(
                    "",
                    "before the job",
                    "; ".join(str(thing).rstrip(".") for thing in things),
                    entry.at_ms,
                    entry.at_ms,
                    said,
                    entry.seq,
                )
            )
            return
        done = CautionGiven(told.step, told.level, told.text, told.told_ms, entry.at_ms, said, entry.seq)
        if told.acknowledged_ms is None:
            self.story.cautions[self.story.cautions.index(told)] = done
        else:  # by who took the job over: it takes nothing from what the first one said
            self.story.cautions.append(done)
        self.told[key] = done

    def _note(self, data: Mapping[str, Any], entry: Entry) -> None:
        note = Note(
            str(data.get("step", "")),
            str(data.get("note", "")),
            entry.at_ms,
            str(data.get("clip", "")),
            float(data.get("seconds", 0) or 0),
            str(data.get("text", "")),
            entry.seq,
        )
        self.story.notes.append(note)
        if self.at is not None:
            self.at.notes.append(note)

    def _witness(self, data: Mapping[str, Any], entry: Entry) -> None:
        self.story.witnesses.append(
            Witnessed(
                str(data.get("step", "")), str(data.get("role", "")), str(data.get("name", "")), entry.at_ms
            )
        )

    def _no_match(self, data: Mapping[str, Any], entry: Entry) -> None:
        if self.at is not None:
            self.at.no_matches += 1

    def _no_input(self, data: Mapping[str, Any], entry: Entry) -> None:
        if self.at is not None:
            self.at.no_inputs += 1

    def _help(self, data: Mapping[str, Any], entry: Entry) -> None:
        if self.at is not None:
            self.at.helps += 1

    def _prediction(self, data: Mapping[str, Any], entry: Entry) -> None:
        if self.at is not None:
            self.at.told_ms, self.at.held_ms = entry.at_ms, 0

    def _hold(self, data: Mapping[str, Any], entry: Entry) -> None:
        if self.held is None:
            self.held = (entry.at_ms, str(data.get("why", "")))
            self._stands_still(entry.at_ms)

    def _carried_on(self, data: Mapping[str, Any], entry: Entry) -> None:
        """Also by a key while the microphone is away: work goes on without it."""
        if self.held is not None:
            since, why = self.held
            self.held = None
            self.story.pauses.append(Pause("hold", since, entry.at_ms, why))
        self._device_back(entry.at_ms)
        self._goes_on(entry.at_ms)

    def _resumed(self, data: Mapping[str, Any], entry: Entry) -> None:
        self._stands_still(self.commit_before_ms)
        self._device_back(self.commit_before_ms)
        away = Pause("resumed", self.commit_before_ms, entry.at_ms, "the program was away")
        self.story.pauses.append(away)
        self._goes_on(entry.at_ms)

    def _device(self, data: Mapping[str, Any], entry: Entry) -> None:
        if not data.get("lost"):
            self._device_back(entry.at_ms)
            self._goes_on(entry.at_ms)
        elif self.lost is None:
            self.lost = (entry.at_ms, f"{data.get('device', '')} lost")
            self._stands_still(entry.at_ms)

    def _device_back(self, at_ms: int) -> None:
        if self.lost is not None:
            since, why = self.lost
            self.lost = None
            self.story.pauses.append(Pause("device", since, at_ms, why))

    def _stands_still(self, at_ms: int) -> None:
        if self.still_ms is None:
            self.still_ms = at_ms

    def _goes_on(self, at_ms: int) -> None:
        """Not while the job is on hold or its microphone away, whichever of them has ended."""
        if self.held is not None or self.lost is not None or self.still_ms is None:
            return
        if self.at is not None:
            self.at.held_ms += max(0, at_ms - self.still_ms)
        self.still_ms = None

    def _clock(self, data: Mapping[str, Any], entry: Entry) -> None:
        for ms, why in jumps(data):
            self.story.pauses.append(Pause("clock", entry.at_ms, None, why, ms))
            if self.at is not None and self.at.left_ms is None and self.still_ms is None:
                self.at.held_ms += ms

    def _person_changed(self, data: Mapping[str, Any], entry: Entry) -> None:
        self.story.taken_over.append(InHand(str(data.get("to", "")), entry.at_ms, entry.seq))

    def _wrench_changed(self, data: Mapping[str, Any], entry: Entry) -> None:
        self.story.wrench = str(data.get("wrench", self.story.wrench))

    def _signed_off(self, data: Mapping[str, Any], entry: Entry) -> None:
        self.signed.setdefault(
            int(data.get("entry", -1)),
            SignedOff(
                entry.seq,
                entry.at_ms,
                str(data.get("name", "")),
                str(data.get("role", "")),
                str(data.get("how", "")),
                str(data.get("why", "")),
            ),
        )

    def _passed_over(self, data: Mapping[str, Any], entry: Entry) -> None:
        self.story.passed_over.append((str(data.get("step", "")), str(data.get("why", ""))))

    _step_passed_over = _passed_over

    def _ended(self, data: Mapping[str, Any], entry: Entry) -> None:
        story = self.story
        story.ended_ms = entry.at_ms
        self.ended_seq = entry.seq
        story.outcome = str(data.get("outcome", ""))
        story.reason = str(data.get("reason", ""))
        if self.at is not None and self.at.left_ms is None:
            self.at.left_ms = entry.at_ms


def _given(data: Mapping[str, Any], entry: Entry) -> Given:
    low, high = data.get("low"), data.get("high")
    low_included = high_included = True
    if low is None and high is None:
        low, low_included = _bound(data, "at_least", "above")
        high, high_included = _bound(data, "at_most", "below")
    return Given(
        seq=entry.seq,
        at_ms=entry.at_ms,
        step=str(data.get("step", "")),
        name=str(data.get("name", "")),
        kind=str(data.get("kind", "")),
        value=data.get("value"),
        unit=str(data.get("unit", "")),
        said=str(data.get("said", "")),
        said_value=data.get("said_value"),
        said_unit=str(data.get("said_unit", "")),
        within=bool(data.get("within", True)),
        confidence=float(data.get("confidence", 1.0)),
        confirmed=str(data.get("confirmed", "")),
        critical=bool(data.get("critical", False)),
        target=data.get("target"),
        low=low,
        high=high,
        low_included=low_included,
        high_included=high_included,
        fasteners=int(data.get("fasteners", 1)),
    )


def _bound(data: Mapping[str, Any], including: str, excluding: str) -> tuple[float | None, bool]:
    if data.get(including) is not None:
        return float(data[including]), True
    if data.get(excluding) is not None:
        return float(data[excluding]), False
    return None, True
