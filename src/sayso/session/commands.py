"""The commands that run a job: demo, run, rehearse, resume; and devices."""

from __future__ import annotations

import contextlib
import shlex
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sayso.session.devices import Devices
from sayso.session.early import begin_early
from sayso.session.errors import NoVoiceError, UserError
from sayso.session.places import demo_procedure, find_procedure

if TYPE_CHECKING:
    from sayso.dialogue.events import Event
    from sayso.record.store import Store
    from sayso.session.equipment import Equipment
    from sayso.session.job import Job
    from sayso.session.opening import JobOptions
    from sayso.session.page import PageOptions
    from sayso.session.running import Ended

#: Exit codes beside 0 (the job ended) and 2 (something to put right, said on stderr).
LEFT_OPEN = 3
STOPPED = 5

StoreOption = Annotated[
    str | None, typer.Option("--store", help="Record: a file or a postgresql:// address.", show_default=False)
]
MicrophoneOption = Annotated[str | None, typer.Option("--device", help="Microphone, or part of its name.")]
SpeakerOption = Annotated[str | None, typer.Option(help="Loudspeaker or headset, or part of its name.")]
HeadsetOption = Annotated[
    bool, typer.Option("--headset", help="You wear a headset: answer at once, cut the voice off by talking.")
]
OpenEarOption = Annotated[
    bool,
    typer.Option(
        "--open-ear",
        help="Beside a loudspeaker: listen while the voice speaks too. Its own words may be taken for yours.",
    ),
]
LevelOption = Annotated[str, typer.Option(help="How much is said: full, normal or brief.")]
WrenchOption = Annotated[str, typer.Option(help="Unit of the torque wrench: N.m, lbf.ft or lbf.in.")]
PersonOption = Annotated[str, typer.Option(help="Who does the job.")]
MachineOption = Annotated[str, typer.Option(help="Which machine it is done on.")]
BayOption = Annotated[str, typer.Option(help="Bay of the workshop.")]
QuietOption = Annotated[bool, typer.Option("--quiet", help="Fewer words: only cautions and questions.")]
QuestionsOption = Annotated[
    bool, typer.Option(help="At full detail, ask a learner before telling (by voice: questions off).")
]
WitnessOption = Annotated[
    list[str] | None, typer.Option("--witness", help="CODE=NAME of a person who may release hold points.")
]
LanguageOption = Annotated[str, typer.Option(help="Language of the procedure's texts.")]
SetOption = Annotated[list[str] | None, typer.Option("--set", help="NAME=VALUE for a parameter.")]
PageOption = Annotated[bool, typer.Option("--page", help="Show the job in a browser on this machine too.")]
PortOption = Annotated[int, typer.Option("--port", help="Port of the page; 0 takes a free one.")]
ModelOption = Annotated[
    str | None, typer.Option(help="A vosk model directory; the shipped one when not given.")
]
RateOption = Annotated[float, typer.Option(min=0.5, max=2.0, help="How fast it speaks; 1 is normal.")]
VoiceOption = Annotated[str, typer.Option(help="Voice id of the speech engine.")]


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
    if not typed:
        begin_early(None)
    options = _options("Wren 48, demo", "", "", level, wrench, None, False, "en", None)
    path = demo_procedure()
    print("sayso: the demo's lead hand gives the code 2746", file=sys.stderr)
    if typed:
        _rehearse(path, options, store, False)
        return
    try:
        _run(path, options, store, Devices(device, speaker, headset), _page(page, 0, store))
    except NoVoiceError as missing:
        print(f"sayso: no job by voice: {missing}", file=sys.stderr)
        if sys.stdin.isatty() and not typer.confirm("Rehearse the same job on the keyboard?", default=True):
            raise typer.Exit(2) from None
        _rehearse(path, options, store, False)


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
    if not typed:
        begin_early(model)
    options = _options(machine, person, bay, level, wrench, witness, quiet, language, set_, questions)
    found = find_procedure(procedure)
    if typed:
        _type(found, options, store, waits_pass=False)
        return
    wanted = Devices(device, speaker, headset, open_ear, voice, rate, model)
    with _told_what_to_do_without_sound():
        _run(found, options, store, wanted, _page(page, port, store))


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
    language: LanguageOption = "en",
    set_: SetOption = None,
    real_time: Annotated[bool, typer.Option("--real-time", help="Waits take their time.")] = False,
    questions: QuestionsOption = True,
) -> None:
    """The same job on the keyboard: same machine, same questions. Waits pass at once."""
    options = _options(machine, person, bay, level, wrench, witness, quiet, language, set_, questions)
    _rehearse(find_procedure(procedure), options, store, real_time)


def resume(
    job: Annotated[str | None, typer.Argument(help="Job, the beginning of its name, or its number.")] = None,
    store: StoreOption = None,
    typed: Annotated[bool, typer.Option("--typed", help="Go on on the keyboard.")] = False,
    real_time: Annotated[bool, typer.Option("--real-time", help="Typed: waits take their time.")] = False,
    headset: HeadsetOption = False,
    device: MicrophoneOption = None,
    speaker: SpeakerOption = None,
    model: ModelOption = None,
    voice: VoiceOption = "",
    open_ear: OpenEarOption = False,
    rate: RateOption = 1.0,
    page: PageOption = False,
    port: PortOption = 0,
) -> None:
    """Take an open job up again at the same question."""
    from sayso.session.running import run_typed, taken_up

    with _told_what_to_do_without_sound(), _open(store) as record, taken_up(record, job) as (found, first):
        if typed:
            _finish(run_typed(found, first, waits_pass=not real_time), store, typed=True)
            return
        from sayso.session.equipment import equipment
        from sayso.session.quiet import quiet_libraries

        wanted = Devices(device, speaker, headset, open_ear, voice, rate, model)
        with quiet_libraries(), equipment(wanted, found.procedure, found.state.witnesses) as opened:
            _spoken(found, first, opened, store, _page(page, port, store))


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


# --- parts ---------------------------------------------------------------------------------------


def _options(
    machine: str,
    person: str,
    bay: str,
    level: str,
    wrench: str,
    witness: list[str] | None,
    quiet: bool,
    language: str,
    parameters: list[str] | None,
    questions: bool = True,
) -> JobOptions:
    from sayso.session.opening import JobOptions

    if level not in ("full", "normal", "brief"):
        raise UserError(f"--level {level}: write full, normal or brief")
    if wrench not in ("N.m", "lbf.ft", "lbf.in"):
        raise UserError(f"--wrench {wrench}: write N.m, lbf.ft or lbf.in")
    return JobOptions(
        machine=machine,
        person=person,
        bay=bay,
        level=level,  # type: ignore[arg-type]
        wrench=wrench,
        witnesses=tuple(_pair("--witness", text) for text in witness or ()),
        quiet=quiet,
        language=language,
        parameters=dict(_pair("--set", text) for text in parameters or ()),
        questions=questions,
    )


def _pair(option: str, text: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not equals or not name.strip():
        raise UserError(
            f"{option} {text}: write it as {'CODE=NAME' if option == '--witness' else 'NAME=VALUE'}"
        )
    return name.strip(), value.strip()


def _open(store: str | None) -> Store:
    from sayso.record.place import default_place
    from sayso.record.store import open_store

    return open_store(store or default_place())


def _page(wanted: bool, port: int, store: str | None) -> PageOptions | None:
    if not wanted:
        return None
    from sayso.record.place import default_place
    from sayso.session.page import PageOptions

    return PageOptions(store or default_place(), port)


def _run(
    path: Path, options: JobOptions, store: str | None, devices: Devices, page: PageOptions | None = None
) -> None:
    from sayso.session.equipment import equipment
    from sayso.session.opening import read_procedure
    from sayso.session.quiet import quiet_libraries
    from sayso.session.running import begun

    procedure = read_procedure(path, options.language, options.parameters)
    # The equipment is opened first: a machine without a voice must not leave an empty job in the record.
    with (
        _open(store) as record,
        quiet_libraries(),
        equipment(devices, procedure, options.witnesses) as opened,
        begun(record, procedure, options) as (job, first),
    ):
        _spoken(job, first, opened, store, page)


@contextlib.contextmanager
def _told_what_to_do_without_sound() -> Iterator[None]:
    """A job by voice that cannot be: what is missing, and the way that is left."""
    try:
        yield
    except NoVoiceError as missing:
        hint = "" if "--typed" in str(missing) else "; put it right, or go on without sound: add --typed"
        raise NoVoiceError(f"{missing}{hint}") from missing


def _spoken(job: Job, first: Event, opened: Equipment, store: str | None, page: PageOptions | None) -> None:
    from sayso.session.running import run_spoken

    _say_where(opened.ear.microphone_name, opened.mouth.name)
    keys = sys.stdin if sys.stdin is not None and not sys.stdin.closed else None
    _finish(run_spoken(job, first, opened, keys=keys, page=page), store)


def _rehearse(path: Path, options: JobOptions, store: str | None, real_time: bool) -> None:
    from dataclasses import replace

    _type(path, replace(options, rehearsal=True), store, waits_pass=not real_time)


def _type(path: Path, options: JobOptions, store: str | None, *, waits_pass: bool) -> None:
    from sayso.session.opening import read_procedure
    from sayso.session.running import begun, run_typed

    procedure = read_procedure(path, options.language, options.parameters)
    with _open(store) as record, begun(record, procedure, options) as (job, first):
        _finish(run_typed(job, first, waits_pass=waits_pass), store, typed=True)


def _say_where(microphone: str, speaker: str) -> None:
    print(
        f"sayso: microphone {microphone}, loudspeaker {speaker}; Ctrl-C leaves the job open", file=sys.stderr
    )


def _store_as_typed(store: str | None) -> str:
    """What a printed command needs to find the record: a job is found only in the one that it lies in."""
    from sayso.record import postgres

    address = postgres.shown(store) if store and postgres.is_address(store) else store
    return f" --store {shlex.quote(address)}" if address else ""


def _finish(ended: Ended, store: str | None, *, typed: bool = False) -> None:
    where = _store_as_typed(store)
    if ended.outcome is None:
        go_on = f"sayso resume {ended.job}{' --typed' if typed else ''}{where}"
        print(f"sayso: job {ended.job} is open ({ended.why}); go on with: {go_on}", file=sys.stderr)
        raise typer.Exit(LEFT_OPEN)
    report = f"sayso report {ended.job}{where}"
    print(f"sayso: job {ended.job} ended: {ended.outcome}; its report: {report}", file=sys.stderr)
    if ended.outcome == "stopped":
        raise typer.Exit(STOPPED)
