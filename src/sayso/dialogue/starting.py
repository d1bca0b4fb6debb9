"""The start of a job: what it is, what comes before it, and the technician's 'ready'."""

from __future__ import annotations

from sayso.dialogue import asked, asking, prompts, tools_in_hand, way, wording
from sayso.dialogue.events import Started
from sayso.dialogue.heard import Spoken
from sayso.dialogue.state import Awaiting
from sayso.dialogue.turn import Turn
from sayso.procedure.model import Before


def start(turn: Turn, event: Started) -> None:
    procedure = turn.state.procedure
    turn.update(
        job=event.job,
        machine=event.machine,
        person=event.person,
        people=(event.person,) if event.person else (),
        bay=event.bay,
        started_ms=event.at_ms,
        level=event.level,
        wrench=event.wrench,
        witnesses=event.witnesses,
        quiet=event.quiet,
        usual=event.usual,
        ask_first=event.ask_first,
        only_said=event.only_said,
        at_keyboard=event.at_keyboard,
    )
    turn.record(
        "started",
        job=event.job,
        procedure=procedure.id,
        title=procedure.title,
        revision=procedure.revision,
        text_hash=procedure.text_hash,
        machine=event.machine,
        person=event.person,
        bay=event.bay,
        level=event.level,
        wrench=event.wrench,
    )
    turn.say(f"{procedure.title}, revision {procedure.revision}.", "step")
    turn.say(procedure.defers_to, "caution")
    tools_in_hand.take(turn, event.tools)
    texts = before_texts(procedure.before, procedure.language)
    if not texts:
        way.start(turn)
        return
    for text in texts:
        turn.say(text, "step")
    turn.update(awaiting=Awaiting.READY)
    turn.say(prompts.READY_PROMPT, "question")


def heard_ready(turn: Turn, spoken: Spoken) -> bool:
    if not (spoken.bare in asking.READY or asked.means_done(spoken.words)) or not spoken.sure(
        turn.state.threshold
    ):
        return False
    before = turn.state.procedure.before
    turn.record(
        "caution_acknowledged",
        step="",
        what="before the job",
        tools=list(before.tools),
        parts=[part.name for part in before.parts],
        conditions=list(before.conditions),
        said=spoken.text,
    )
    way.start(turn)
    return True


def before_texts(before: Before, language: str) -> list[str]:
    texts = []
    if before.tools:
        texts.append(f"Tools: {wording.listed(list(before.tools))}.")
    if before.parts:
        parts = [wording.part_text(part, language) for part in before.parts]
        texts.append(f"Parts: {wording.listed(parts)}.")
    texts += [f"Before you start: {condition}" for condition in before.conditions]
    return texts
