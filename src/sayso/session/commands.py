"""The commands that run a job: demo, run, rehearse, resume; and devices."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Sequence
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Annotated

import typer

from sayso.session.devices import Devices
from sayso.session.early import begun_early
from sayso.session.errors import NoVoiceError, UserError
from sayso.session.job_options import (
    BayOption,
    HeadsetOption,
    LanguageOption,
    LevelOption,
    MachineOption,
    MicrophoneOption,
    ModelOption,
    OpenEarOption,
    PageOption,
    PersonOption,
    PortOption,
    QuestionsOption,
    QuietOption,
    RateOption,
    SetOption,
    SpeakerOption,
    StoreOption,
    TakesOverOption,
    ToolOption,
    VoiceOption,
    WitnessOption,
    WrenchOption,
    job_options,
    person_named,
    tools_named,
)
from sayso.session.job_runs import (
    do_by_voice,
    do_typed,
    go_by_voice,
    open_record,
    page_options,
    rehearse_typed,
    tell_how_it_ended,
    tell_of_changed_text,
    tell_of_open_ear,
    tell_which_of_several,
    told_what_to_do_without_sound,
)
from sayso.session.places import demo_procedure, find_procedure

if TYPE_CHECKING:
    from sayso.dialogue.events import Event
    from sayso.record.store import Store
    from sayso.session.job import Job


def demo(
    store: StoreOption = None,
    headset: HeadsetOption = False,
    device: MicrophoneOption = None,
    speaker: SpeakerOption = None,
    wrench: WrenchOption = "N.m",
    level: LevelOption = "normal",
    page: PageOption = False,
    typed: Annotated[bool, typer.Option("--typed", help="Rehearse it on the keyboard.")] = False,
) -> None:
    """The demo job by voice; typed when this machine has no microphone, loudspeaker or voice."""
    if typed:
        _demo(store, level, wrench, None, page)
        return
    with begun_early(None):
        _demo(store, level, wrench, Devices(device, speaker, headset), page)


def _demo(store: str | None, level: str, wrench: str, devices: Devices | None, page: bool) -> None:
    options = job_options("Wren 48, demo", "", "", level, wrench, None, False, "en", None)
    path = demo_procedure()
    print("sayso: the demo's lead hand gives the code 2746", file=sys.stderr)
    if devices is None:
        rehearse_typed(path, options, store, False, page_options(page, 0, store))
        return
    try:
        do_by_voice(path, options, store, devices, page_options(page, 0, store))
    except NoVoiceError as missing:
        print(f"sayso: no job by voice: {missing}", file=sys.stderr)
        if sys.stdin.isatty() and not typer.confirm("Rehearse the same job on the keyboard?", default=True):
            raise typer.Exit(2) from None
        rehearse_typed(path, options, store, False, page_options(page, 0, store))


def run(
    procedure: Annotated[str, typer.Argument(help="A procedure file, or the name of a shipped one.")],
    store: StoreOption = None,
    headset: HeadsetOption = False,
    device: MicrophoneOption = None,
    speaker: SpeakerOption = None,
    level: LevelOption = "normal",
    wrench: WrenchOption = "N.m",
    person: PersonOption = "",
    machine: MachineOption = "",
    bay: BayOption = "",
    quiet: QuietOption = False,
    witness: WitnessOption = None,
    tool: ToolOption = None,
    language: LanguageOption = "en",
    set_: SetOption = None,
    model: ModelOption = None,
    voice: VoiceOption = "",
    open_ear: OpenEarOption = False,
    rate: RateOption = 1.0,
    page: PageOption = False,
    port: PortOption = 0,
    questions: QuestionsOption = True,
    typed: Annotated[bool, typer.Option("--typed", help="On the keyboard: no sound is needed.")] = False,
) -> None:
    """Do a job by voice."""
    asked = (machine, person, bay, level, wrench, witness, quiet, language, set_, questions, tool)
    if typed:
        do_typed(
            find_procedure(procedure),
            job_options(*asked),
            store,
            waits_pass=False,
            page=page_options(page, port, store),
        )
        return
    wanted = Devices(device, speaker, headset, open_ear, voice, rate, model)
    tell_of_open_ear(wanted)
    with begun_early(model), told_what_to_do_without_sound():
        options, found = job_options(*asked), find_procedure(procedure)
        do_by_voice(found, options, store, wanted, page_options(page, port, store))


def rehearse(
    procedure: Annotated[str, typer.Argument(help="A procedure file, or the name of a shipped one.")],
    store: StoreOption = None,
    level: LevelOption = "normal",
    wrench: WrenchOption = "N.m",
    person: PersonOption = "",
    machine: MachineOption = "",
    bay: BayOption = "",
    quiet: QuietOption = False,
    witness: WitnessOption = None,
    tool: ToolOption = None,
    language: LanguageOption = "en",
    set_: SetOption = None,
    real_time: Annotated[bool, typer.Option("--real-time", help="Waits take their time.")] = False,
    questions: QuestionsOption = True,
) -> None:
    """The same job on the keyboard: same machine, same questions. Waits pass at once."""
    options = job_options(
        machine, person, bay, level, wrench, witness, quiet, language, set_, questions, tool
    )
    rehearse_typed(find_procedure(procedure), options, store, real_time)


def resume(
    job: Annotated[str | None, typer.Argument(help="Job, the beginning of its name, or its number.")] = None,
    store: StoreOption = None,
    typed: Annotated[bool, typer.Option("--typed", help="Go on on the keyboard.")] = False,
    real_time: Annotated[
        bool, typer.Option("--real-time", help="A rehearsal's waits take their time, as a job's always do.")
    ] = False,
    headset: HeadsetOption = False,
    device: MicrophoneOption = None,
    speaker: SpeakerOption = None,
    tool: ToolOption = None,
    person: TakesOverOption = "",
    model: ModelOption = None,
    voice: VoiceOption = "",
    open_ear: OpenEarOption = False,
    rate: RateOption = 1.0,
    page: PageOption = False,
    port: PortOption = 0,
) -> None:
    """Take an open job up again at the same question."""
    wanted = Devices(device, speaker, headset, open_ear, voice, rate, model)
    with (
        contextlib.nullcontext() if typed else begun_early(model),
        told_what_to_do_without_sound(),
        open_record(store, may_be_new=store is None) as record,
        _taken_up(record, job, tools_named(tool), person_named(person)) as (found, first),
    ):
        if job is None:
            tell_which_of_several(record, found.journal.job, store)
        tell_of_changed_text(record, found.journal.job, store)
        if typed:
            from sayso.session.running import run_typed

            # what was begun as a job waits as a job: a wait may be what lets a capacitor discharge
            waits_pass = not real_time and bool(record.opening(found.journal.job)["meta"].get("rehearsal"))
            shown = page_options(page, port, store)
            ended = run_typed(found, first, waits_pass=waits_pass, page=shown)
            tell_how_it_ended(ended, store, typed=True)
            return
        from sayso.session.equipment import equipment

        tell_of_open_ear(wanted)
        with equipment(wanted, found.procedure, found.state.witnesses) as opened:
            go_by_voice(found, first, opened, store, page_options(page, port, store))


def _taken_up(
    record: Store, job: str | None, tools: Sequence[tuple[str, str]], person: str
) -> AbstractContextManager[tuple[Job, Event]]:
    from sayso.session.running import taken_up

    return taken_up(record, job, tools, person)


def devices() -> None:
    """Microphones and loudspeakers of this machine, by the names that --device and --speaker take."""
    from sayso.session.quiet import quiet_libraries
    from sayso.speaking.output_device import sound_library

    with quiet_libraries():
        sound = sound_library()
        found = list(sound.query_devices())
        chosen = [d if isinstance(d, int) else -1 for d in sound.default.device]
    if not found:
        raise UserError("this machine has no sound device; rehearse a job with: sayso rehearse PROCEDURE")
    for title, key, default in (
        ("microphones", "max_input_channels", chosen[0]),
        ("loudspeakers", "max_output_channels", chosen[1]),
    ):
        print(f"{title}:")
        for device in (d for d in found if d[key] > 0):
            mark = " (default)" if device["index"] == default else ""
            print(f"  {device['name']}{mark}  {device['default_samplerate']:.0f} Hz")
