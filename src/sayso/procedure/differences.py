"""Two revisions of a procedure compared in the trade's words, and what that means for a job that is open."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Literal

from sayso.procedure.conditions_in_words import condition_in_words
from sayso.procedure.model import Ask, AskChoice, AskMeasure, AskWitness, Part, Procedure, Step
from sayso.procedure.same_quantity import only_the_unit, same_in_units
from sayso.procedure.wording import answer_in_short, listed, part_in_words, time_in_words


@dataclass(frozen=True, slots=True)
class Difference:
    """`step` is '' for what concerns the whole procedure. safety: cautions, limits, torques, witnesses."""

    kind: Literal["added", "removed", "moved", "changed", "procedure"]
    step: str
    what: str
    safety: bool = False

    def __str__(self) -> str:
        where = f"step {self.step}: " if self.step else ""
        return f"{where}{self.what}"


def differences(old: Procedure, new: Procedure) -> list[Difference]:
    """What changed, in the order of the new revision; removed steps last."""
    found = list(_of_the_whole(old, new))
    old_steps = {step.id: step for step in old.steps}
    new_ids = [step.id for step in new.steps]
    moved = _moved(old, new)
    for number, step in enumerate(new.steps):
        was = old_steps.get(step.id)
        after = f"after {new_ids[number - 1]}" if number else "at the start"
        if was is None:
            found.append(Difference("added", step.id, f"new, {after}: {step.say}", bool(step.cautions)))
            continue
        if step.id in moved:
            found.append(Difference("moved", step.id, f"now comes {after}"))
        found += [
            Difference("changed", step.id, what, safety) for what, safety in _of_a_step(was, step, old, new)
        ]
    for step in old.steps:
        if step.id not in set(new_ids):
            found.append(
                Difference("removed", step.id, f"is no longer done: {step.say}", bool(step.cautions))
            )
    return found


@dataclass(frozen=True, slots=True)
class OpenJob:
    """What a new revision means for a job that is open.

    `affected`: differences in steps already done; `ahead`: in steps still to come.
    """

    affected: tuple[Difference, ...]
    ahead: tuple[Difference, ...]

    @property
    def advice(self) -> str:
        if not self.affected and not self.ahead:
            return "The text of the steps is the same: finish the job on the revision it was started with."
        if any(difference.safety for difference in self.affected):
            return (
                "Steps that are done have changed in a caution, a limit, a torque or a witness: "
                "stop, and have the lead hand decide whether they are done again."
            )
        if self.affected:
            return "Steps that are done have changed: finish on the old revision, or do those steps again."
        return "Only steps still to come have changed: finish on the old one, or start anew."


def for_open_job(old: Procedure, new: Procedure, done: Collection[str]) -> OpenJob:
    """`done` holds the ids of the steps that the open job has finished.

    A job always goes on with the text it was started with; this tells whether that is wise.
    """
    found = differences(old, new)
    last = max((old.position(step) for step in done if step in {s.id for s in old.steps}), default=-1)
    affected: list[Difference] = []
    ahead: list[Difference] = []
    for difference in found:
        if difference.kind == "procedure":
            continue
        if difference.step in done or (
            difference.kind == "added" and _stands_before(difference.step, old, new, last)
        ):
            affected.append(difference)
        else:
            ahead.append(difference)
    return OpenJob(tuple(affected), tuple(ahead))


def _stands_before(step: str, old: Procedure, new: Procedure, last: int) -> bool:
    """Would the added step have come before the last step that is done?"""
    old_ids = {s.id: n for n, s in enumerate(old.steps)}
    return any(old_ids.get(later.id, len(old_ids)) <= last for later in new.steps[new.position(step) + 1 :])


def _moved(old: Procedure, new: Procedure) -> set[str]:
    before = [step.id for step in old.steps]
    after = [step.id for step in new.steps]
    common = set(before) & set(after)
    a = [step for step in before if step in common]
    b = [step for step in after if step in common]
    kept = {
        step
        for block in SequenceMatcher(None, a, b, autojunk=False).get_matching_blocks()
        for step in a[block.a : block.a + block.size]
    }
    return common - kept


def _of_the_whole(old: Procedure, new: Procedure) -> list[Difference]:
    found: list[Difference] = []
    if old.id != new.id:
        found.append(Difference("procedure", "", f"another procedure: {old.id} became {new.id}"))
    if old.title != new.title:
        found.append(Difference("procedure", "", f"title: '{old.title}' became '{new.title}'"))
    if new.revision < old.revision or (new.revision == old.revision and old.text_hash != new.text_hash):
        found.append(
            Difference("procedure", "", f"the text changed, and the revision is still {new.revision}")
            if new.revision == old.revision
            else Difference("procedure", "", f"revision {new.revision} is older than {old.revision}")
        )
    if old.defers_to != new.defers_to:
        found.append(Difference("procedure", "", f"now defers to: {new.defers_to or 'nothing'}", True))
    for name in ("tools", "conditions"):
        was, now = getattr(old.before, name), getattr(new.before, name)
        found += [Difference("procedure", "", f"{name[:-1]} added: {x}") for x in now if x not in was]
        found += [
            Difference("procedure", "", f"{name[:-1]} no longer needed: {x}") for x in was if x not in now
        ]
    found += [Difference("procedure", "", what) for what in _parts(old.before.parts, new.before.parts)]
    return found


def _parts(old: tuple[Part, ...], new: tuple[Part, ...]) -> list[str]:
    was, now = {part.name: part for part in old}, {part.name: part for part in new}
    found = [f"part added: {part_in_words(part)}" for name, part in now.items() if name not in was]
    found += [
        f"part no longer needed: {part_in_words(part)}" for name, part in was.items() if name not in now
    ]
    found += [
        f"part: {part_in_words(was[name])} became {part_in_words(part)}"
        for name, part in now.items()
        if name in was and was[name] != part
    ]
    return found


_LESSER = (
    ("why", "reason"),
    ("hint", "hint"),
    ("brief", "short wording"),
    ("expect", "expected value"),
    ("prediction", "question before telling"),
    ("ask_first", "leave to ask before telling"),
    ("skill", "skill"),
    ("section", "section"),
    ("picture", "picture"),
    ("mistakes", "list of mistakes"),
    ("tools", "list of tools"),
)


def _of_a_step(old: Step, new: Step, was_in: Procedure, now_in: Procedure) -> list[tuple[str, bool]]:
    """(what changed, does it concern safety or the proof of work)"""
    found: list[tuple[str, bool]] = []
    if old.say != new.say:
        found.append((f"says '{new.say}' instead of '{old.say}'", False))
    if old.question != new.question:
        found.append((f"asks '{new.question}' instead of '{old.question}'", False))
    for caution in new.cautions:
        if caution not in old.cautions:
            found.append((f"{caution.level.upper()} added: {caution.say}", True))
    for caution in old.cautions:
        if caution not in new.cautions:
            found.append((f"{caution.level.upper()} removed: {caution.say}", True))
    if old.ask.kind != new.ask.kind:
        found.append((f"asks for {new.ask.kind} instead of {old.ask.kind}", True))
    elif answer_in_short(old) != answer_in_short(new):
        told = f"{new.ask.kind}: {answer_in_short(old)} became {answer_in_short(new)}"
        if only_the_unit(old.ask, new.ask):
            found.append((f"{told}: the same, only the unit changed", False))
        else:
            found.append((told, new.ask.kind in ("torque", "measure", "witness")))
    if old.ask.kind == new.ask.kind:
        also = _of_the_question(old.ask, new.ask)
        if not also and old.ask != new.ask and answer_in_short(old) == answer_in_short(new):
            also = [(f"the question ({new.ask.kind}) is asked in another way", False)]
        found += also
    if old.wait_s != new.wait_s:
        found.append((_wait(old, new), True))
    was_ways, now_ways = _ways_of(old, was_in), _ways_of(new, now_in)
    if was_ways != now_ways or old.then != new.then:
        found += [(what, False) for what in _ways(was_ways, now_ways)]
    now, was = _when(new, now_in), _when(old, was_in)
    # in words too: "above 40" reads another limit where its answer is asked in another unit now
    if old.when != new.when or now != was:
        if now == was:  # the same in words
            now, was = f"when {new.when}", f"when {old.when}"
        found.append((f"applies {now} instead of {was}", False))
    if old.may_skip != new.may_skip:
        found.append(("may be skipped now" if new.may_skip else "may no longer be skipped", True))
    if old.not_met != new.not_met:
        who = f"the {new.not_met} may let" if new.not_met else "nobody may let"
        found.append((f"{who} a value outside its limits stand", True))
    found += [(what, False) for what in _parts(old.parts, new.parts)]
    for name, word in _LESSER:
        if getattr(old, name) != getattr(new, name):
            found.append((f"the {word} changed", False))
    return found


def _of_the_question(old: Ask, new: Ask) -> list[tuple[str, bool]]:
    """What `answer_in_short` does not show: who may release, what is read back, what counts as heard."""
    found: list[tuple[str, bool]] = []
    if old.name != new.name:
        found.append((f"the answer is called {new.name} instead of {old.name}", False))
    if old.read_back != new.read_back:
        found.append(("is read back now" if new.read_back else "is no longer read back", True))
    if isinstance(old, AskWitness) and isinstance(new, AskWitness) and old.codes != new.codes:
        found.append((_who_releases(dict(old.codes), dict(new.codes)), True))
    if isinstance(old, AskChoice) and isinstance(new, AskChoice):
        was = {option.value: option.words for option in old.options}
        found += [
            (f"'{option.value}' is said {listed(list(option.words))}", False)
            for option in new.options
            if was.get(option.value, option.words) != option.words
        ]
    if isinstance(old, AskMeasure) and isinstance(new, AskMeasure):
        before, now = (old.low, old.high), (new.low, new.high)
        if not same_in_units(old, new, ("low", "high")):
            found.append((f"plausible: {_range(*before)} became {_range(*now)}", False))
    return found


def _who_releases(was: dict[str, str], now: dict[str, str]) -> str:
    """By name only: a code is for the hold point, and a list of changes goes to many hands."""
    before, after = sorted(set(was.values())), sorted(set(now.values()))
    if before == after:
        return "the codes that release it changed"
    of_the_shop = "whom the job's own list names"
    return f"released by {listed(after) or of_the_shop} instead of {listed(before) or of_the_shop}"


def _range(low: float | None, high: float | None) -> str:
    if low is None and high is None:
        return "any value"
    return " to ".join("any" if limit is None else f"{limit:g}" for limit in (low, high))


def _wait(old: Step, new: Step) -> str:
    if not (old.wait_s and new.wait_s):
        return f"wait of {time_in_words(new.wait_s)} added" if new.wait_s else "no wait any more"
    return f"wait: {time_in_words(old.wait_s)} became {time_in_words(new.wait_s)}"


def _when(step: Step, procedure: Procedure) -> str:
    return f"when {condition_in_words(step.when, procedure)}" if step.when else "always"


def _ways_of(step: Step, procedure: Procedure) -> dict[str, str]:
    """In words, numbers with their units: answer or condition -> where it leads."""
    found = {
        condition_in_words(case.when, procedure) if case.is_condition else case.when: case.target
        for case in step.then.cases
    }
    found["otherwise"] = step.then.otherwise or (f"the end ({step.ends})" if step.ends else "the next step")
    if step.out_of_limits:
        found["outside its limits"] = step.out_of_limits
    return found


def _ways(was: dict[str, str], now: dict[str, str]) -> list[str]:
    found = [f"'{case}' now leads to {target}" for case, target in now.items() if was.get(case) != target]
    found += [f"'{case}' has no way of its own any more" for case in was if case not in now]
    return found or ["its branches are written in another way"]
