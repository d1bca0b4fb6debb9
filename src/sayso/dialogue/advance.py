"""advance(state, event) -> (state, effects): the one place where an event meets a state.

Pure: the only clock is `event.at_ms`, and the same events give the same state and effects, byte for byte.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from sayso.dialogue import (
    answering,
    asked,
    asking,
    confirming,
    controls,
    ending,
    holding,
    not_met,
    noting,
    offering,
    predicting,
    skipping,
    starting,
    telling,
    undoing,
    waiting,
    way,
)
from sayso.dialogue.effects import Effect, ShowStep
from sayso.dialogue.events import (
    BargeIn,
    ClipKept,
    DeviceBack,
    DeviceLost,
    Event,
    Heard,
    KeyPressed,
    NoInput,
    NoiseChanged,
    NoMatch,
    Resumed,
    Started,
    TimerDone,
    VoiceFinished,
)
from sayso.dialogue.heard import Spoken, from_heard, from_key
from sayso.dialogue.plan import plan_of
from sayso.dialogue.settings import Settings
from sayso.dialogue.state import Aside, Awaiting, HeardLast, State
from sayso.dialogue.turn import Turn
from sayso.dialogue.view import view
from sayso.procedure.model import Procedure

DEFAULTS = Settings()


def begin(procedure: Procedure, settings: Settings = DEFAULTS) -> State:
    """A job that waits for its Started event."""
    return State(procedure=procedure, plan=plan_of(procedure), settings=settings)


def replay(procedure: Procedure, events: Iterable[Event], settings: Settings = DEFAULTS) -> State:
    """The state that these events lead to. `settings` must be those that the job ran with."""
    state = begin(procedure, settings)
    for event in events:
        state, _ = advance(state, event)
    return state


def advance(state: State, event: Event) -> tuple[State, tuple[Effect, ...]]:
    """What the event makes of the state, and what the shell has to do. Never raises for any event."""
    if state.awaiting is Awaiting.ENDED or (state.awaiting is Awaiting.START) != isinstance(event, Started):
        return state, ()
    turn = Turn(state, event.at_ms)
    _happened(turn, event)
    if turn.state is state and not turn.effects:
        return state, ()
    if turn.state.awaiting is not Awaiting.ENDED and _listens_anew(event):
        turn.effects.append(asking.listen(turn.state))
    turn.effects.append(ShowStep(dict(view(turn.state, turn.at_ms))))
    return turn.state, tuple(turn.effects)


def _happened(turn: Turn, event: Event) -> None:
    state = turn.state
    match event:
        case Started():
            starting.start(turn, event)
        case Heard():
            _words(turn, from_heard(event, noisy=state.noisy))
        case KeyPressed():
            _words(turn, from_key(event))
        case NoInput():
            if predicting.is_open(state):
                predicting.silence(turn)
            elif not state.on_hold and not asking.listening_for_note(state):
                offering.lapse(turn)
                asking.no_input(turn)
        case NoMatch(offers=offers):
            if predicting.is_open(state):
                predicting.not_understood(turn)
            elif (
                not state.on_hold
                and not asking.listening_for_note(state)
                and not offering.begin(turn, offers)
            ):
                _not_a_word(turn)
        case BargeIn():
            # The shell has stopped the voice; what was said may have been lost.
            if state.speaking:
                turn.update(cut=True, finished_utterance=state.utterance)
        case VoiceFinished(utterance=utterance, cut=cut):
            if state.finished_utterance < utterance <= state.utterance:
                turn.update(finished_utterance=utterance, cut=cut)
        case TimerDone(name=name):
            waiting.timer_done(turn, name)
        case DeviceLost(device=device):
            holding.device_lost(turn, device)
        case DeviceBack(device=device):
            holding.device_back(turn, device)
        case NoiseChanged():
            _noise(turn, event)
        case ClipKept():
            noting.clip_kept(turn, event.note, event.clip, event.seconds)
        case Resumed(tools=tools, person=person, at_keyboard=at_keyboard):
            turn.update(at_keyboard=at_keyboard)
            holding.resumed(turn, tools, person)


def _listens_anew(event: Event) -> bool:
    return not isinstance(event, VoiceFinished | BargeIn | DeviceLost)


def _words(turn: Turn, spoken: Spoken) -> None:
    if not spoken.words and not spoken.clip:
        return
    if turn.state.on_hold:
        holding.heard_on_hold(turn, spoken)
        return
    turn.silence()
    before = turn.state.tries.no_match
    written = turn.state.heard.written if spoken.key else spoken.typed
    turn.update(heard=HeardLast(spoken.words, spoken.confidence, True, spoken.typed, written), problem="")
    _to_the_open_question(turn, spoken)
    if turn.state.problem == "not understood" or turn.state.tries.no_match > before:
        turn.update(heard=replace(turn.state.heard, used=False))


def _to_the_open_question(turn: Turn, spoken: Spoken) -> None:
    state = turn.state
    match state.aside:
        case Aside.NOTE:
            noting.heard(turn, spoken)
            return
        case Aside.STOP:
            _or_control(turn, spoken, _stop_confirmed(turn, spoken))
            return
        case Aside.SKIP_REASON:
            _or_control(turn, spoken, skipping.heard_reason(turn, spoken))
            return
        case Aside.NOT_MET_REASON:
            _or_control(turn, spoken, not_met.heard_reason(turn, spoken))
            return
        case Aside.NOT_MET_CODE:
            _or_control(turn, spoken, not_met.heard_code(turn, spoken))
            return
        case Aside.NOT_MET_CONFIRM:
            _or_control(turn, spoken, not_met.heard_confirmation(turn, spoken))
            return
    match state.awaiting:
        case Awaiting.READY:
            _or_control(turn, spoken, starting.heard_ready(turn, spoken))
        case Awaiting.PREDICT:
            predicting.heard(turn, spoken)
        case Awaiting.CAUTION:
            _or_control(turn, spoken, _acknowledged(turn, spoken))
        case Awaiting.WAIT:
            answering.heard_while_waiting(turn, spoken)
        case Awaiting.ANSWER | Awaiting.DEVIATION:
            answering.heard(turn, spoken)
        case Awaiting.CONFIRM:
            confirming.heard(turn, spoken)
        case Awaiting.SETTLE:
            _or_control(turn, spoken, undoing.heard_while_settling(turn, spoken))
        case Awaiting.KEEP_REASON:
            _or_control(turn, spoken, undoing.heard_reason_to_keep(turn, spoken))
        case Awaiting.STILL_HOLDS:
            _or_control(turn, spoken, _still_holds(turn, spoken))


def _or_control(turn: Turn, spoken: Spoken, used: bool) -> None:
    if not used and not controls.tried(turn, spoken):
        asking.no_match(turn)


def _acknowledged(turn: Turn, spoken: Spoken) -> bool:
    state = turn.state
    if spoken.bare not in asking.ACKNOWLEDGE or not spoken.sure(state.threshold):
        return False
    number = state.visit.cautions
    caution = state.step.cautions[number]
    turn.record(
        "caution_acknowledged",
        step=state.visit.step,
        visit=state.at,
        caution=number,
        level=caution.level.value,
        text=caution.say,
        said=spoken.text,
    )
    turn.update_visit(state.at, cautions=number + 1)
    telling.tell(turn)
    return True


def _stop_confirmed(turn: Turn, spoken: Spoken) -> bool:
    verdict = asked.yes_or_no(spoken.words)
    if verdict is None or not spoken.sure(turn.state.threshold):
        return False
    turn.update(aside=None)
    if verdict:
        ending.finish_job(turn, "stopped", reason="stopped by the technician")
    else:
        holding.same_question(turn, "Going on.")
    return True


def _still_holds(turn: Turn, spoken: Spoken) -> bool:
    verdict = True if spoken.bare in asking.KEEP else asked.yes_or_no(spoken.words)
    if verdict is None or not spoken.sure(turn.state.threshold):
        return False
    if verdict:
        way.still_holds(turn)
    else:
        way.to_do_again(turn)
    return True


def _not_a_word(turn: Turn) -> None:
    """What was being said when a noise cut it off is said again: the noise took it from the technician."""
    state = turn.state
    was_cut, said = state.cut, state.saying
    asking.no_match(turn)
    if was_cut and turn.state.tries.no_match <= 3:
        turn.say(said, "reply")


def _noise(turn: Turn, event: NoiseChanged) -> None:
    state = turn.state
    louder = event.noisy and state.noisy and event.decibels_over > state.noise_over
    if event.noisy == state.noisy and not louder:
        return
    turn.update(noisy=event.noisy, noise_over=event.decibels_over)
    turn.record("noise", noisy=event.noisy, decibels_over=event.decibels_over)
    if louder or (event.noisy and not state.noise_told):
        turn.update(noise_told=True)
        if not state.on_hold:
            over = f"{event.decibels_over:.0f} decibels over. " if event.decibels_over else ""
            at_start = not state.at_step or state.at == 0
            loud = "Too loud here: " if at_start and over else "It has become loud. "
            loud = "It has become louder still: " if louder else loud
            turn.say(f"{loud}{over}Come closer or use a headset. I read everything back.", "alert")
