"""What the commands that run a job let one choose, and the job's options made of it."""

from __future__ import annotations

import contextlib
import re
import unicodedata
from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from sayso.procedure.codes import wrong_with_code
from sayso.session.errors import UserError

if TYPE_CHECKING:
    from sayso.session.opening import JobOptions

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
        help="Beside a loudspeaker: take 'stop', 'hold' and 'repeat' while the voice speaks (not in a "
        "sentence that says the word). Answer when it has finished.",
    ),
]
LevelOption = Annotated[str, typer.Option(help="How much is said: full, normal or brief.")]
WrenchOption = Annotated[str, typer.Option(help="Unit of the torque wrench: N.m, lbf.ft or lbf.in.")]
PersonOption = Annotated[str, typer.Option(help="Who does the job.")]
TakesOverOption = Annotated[
    str, typer.Option("--person", help="Who takes the job over: from here on it is theirs.")
]
MachineOption = Annotated[str, typer.Option(help="Which machine it is done on.")]
BayOption = Annotated[str, typer.Option(help="Bay of the workshop.")]
QuietOption = Annotated[bool, typer.Option("--quiet", help="Fewer words: only cautions and questions.")]
QuestionsOption = Annotated[
    bool, typer.Option(help="At full detail, ask a learner before telling (by voice: questions off).")
]
WitnessOption = Annotated[
    list[str] | None, typer.Option("--witness", help="CODE=NAME of a person who may release hold points.")
]
ToolOption = Annotated[
    list[str] | None,
    typer.Option(
        "--tool", help="NAME=DAY: a measuring tool in hand and the last day of its calibration (2027-03-31)."
    ),
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


#: What torque wrenches are marked in.
WRENCH_SCALES = ("N.m", "lbf.ft", "lbf.in")


def job_options(
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
    tools: list[str] | None = None,
) -> JobOptions:
    from sayso.session.opening import JobOptions

    if level not in ("full", "normal", "brief"):
        raise UserError(f"--level {level}: write full, normal or brief")
    scale = _scale_of_wrench(wrench)
    return JobOptions(
        machine=_one_line("--machine", machine),
        person=person_named(person),
        bay=_one_line("--bay", bay),
        level=level,  # type: ignore[arg-type]
        wrench=scale,
        witnesses=tuple(_witness(text) for text in witness or ()),
        quiet=quiet,
        language=language,
        parameters=dict(_parameter(text) for text in parameters or ()),
        questions=questions,
        tools=tools_named(tools),
    )


def person_named(person: str) -> str:
    return _one_line("--person", person)


def tools_named(given: list[str] | None) -> tuple[tuple[str, str], ...]:
    """(name, last day of its calibration or ''), each tool once. UserError for a day that is none."""
    found: dict[str, str] = {}
    for text in given or ():
        name, _, day = text.partition("=")
        name = _one_line("--tool", name)
        if not name:
            raise UserError(f"--tool {text}: write NAME=DAY, such as 'wrench 3=2027-03-31'")
        if name in found:
            raise UserError(f"--tool {text}: {name} is named twice; name each tool once")
        found[name] = _day(text, day.strip())
    return tuple(found.items())


def _day(text: str, day: str) -> str:
    if not day:
        return ""
    # 3/4/27 is one day in one country and another in the next
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", day):
        with contextlib.suppress(ValueError):
            return date.fromisoformat(day).isoformat()
    raise UserError(f"--tool {text}: write the last day of the calibration as YEAR-MONTH-DAY (2027-03-31)")


def _one_line(option: str, name: str) -> str:
    """A name stands in lists, reports and on terminals for ever: no line breaks and no control characters."""
    if any(unicodedata.category(character) == "Cc" for character in name):
        plain = " ".join("".join(c if unicodedata.category(c) != "Cc" else " " for c in name).split())
        raise UserError(
            f"{option} {plain!r}: there is a line break or a control character in it; write a plain name"
        )
    return " ".join(name.split())


def _pair(option: str, text: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not equals or not name.strip():
        raise UserError(
            f"{option} {text}: write it as {'CODE=NAME' if option == '--witness' else 'NAME=VALUE'}"
        )
    return name.strip(), value.strip()


def _parameter(text: str) -> tuple[str, str]:
    """An empty value is none: in the file it says that one must be given."""
    name, value = _pair("--set", text)
    if not value:
        raise UserError(f"--set {text}: '{name}' needs a value; leave --set {name} out for the file's own")
    return name, value


def _witness(text: str) -> tuple[str, str]:
    code, name = _pair("--witness", text)
    if wrong := wrong_with_code(code, name):
        raise UserError(f"--witness {text}: {'; '.join(wrong)}")
    if "=" in name:  # "2746=R Tarn,5180=O Vale" would be one person of that name
        raise UserError(f"--witness {text}: two codes in one; give --witness once for each person")
    return code, name


def _scale_of_wrench(written: str) -> str:
    """N.m, lbf.ft or lbf.in, however the wrench's own scale writes it (Nm, ft-lb, in lb)."""
    from sayso.trade.units import UnknownUnitError, parse_unit

    try:
        unit = parse_unit(written)
    except UnknownUnitError:
        unit = None
    for scale in WRENCH_SCALES:
        if unit == parse_unit(scale):
            return scale
    raise UserError(f"--wrench {written}: write N.m, lbf.ft or lbf.in")
