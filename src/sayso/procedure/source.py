"""The procedure file as it is written: every key, its type and its meaning.

These models check one file and emit the JSON Schema that editors use. A text is either plain or a mapping
of language to text. Quantities stay text here ('9 N.m'); they are worked out in quantities.py.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

StepId = Annotated[
    str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", description="lower case words joined by '-'")
]
AnswerName = Annotated[
    str, Field(pattern=r"^[a-z][a-z0-9_]*$", description="lower case words joined by '_'; conditions use it")
]
Language = Annotated[str, Field(pattern=r"^[a-z]{2,3}$")]
Line = Annotated[str, Field(min_length=1)]
Text = Annotated[
    Line | dict[Language, Line],
    Field(description="spoken or shown text: plain, or one text per language {en: ..., es: ...}"),
]
Quantity = Annotated[str, Field(min_length=1, description="a number and a unit: '9 N.m', '5 min', '10 %'")]
Target = Annotated[str, Field(min_length=1, description="a step id, 'next' or 'end'")]
Cel = Annotated[str, Field(min_length=1, description="a condition in CEL: answers.pins == 8")]


class _Source(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class CautionSource(_Source):
    """A caution, spoken before its step. danger and warning must be acknowledged by voice."""

    level: Literal["danger", "warning", "caution", "notice"] = Field(
        description="ANSI Z535.6: danger WILL kill or maim, warning COULD; caution: lightly; notice: not"
    )
    say: Text


class PartSource(_Source):
    name: Text
    quantity: str = Field("1", description="a number, or a number and a unit: 2, '3 m'")


class BeforeSource(_Source):
    """What must be to hand before the job starts."""

    tools: list[Text] = []
    parts: list[Text | PartSource] = []
    conditions: list[Text] = []


class _Ask(_Source):
    read_back: bool | None = Field(None, description="repeat the answer and have it confirmed")
    question: Text | None = Field(None, description="what is asked after 'say'")


class AskDoneSource(_Ask):
    done: AnswerName


class AskYesNoSource(_Ask):
    yes_no: AnswerName


class AskChoiceSource(_Ask):
    choice: AnswerName
    options: dict[str, Text | list[Text]] | list[str] = Field(
        description="value: the words that mean it; or a list of values that are their own words"
    )


class AskCountSource(_Ask):
    count: AnswerName
    from_: int = Field(alias="from")
    to: int


class AskMeasureSource(_Ask):
    measure: AnswerName
    unit: str = Field(description="V, mm, ohm, kPa, ... or '' for a plain number")
    below: float | None = None
    above: float | None = None
    at_least: float | None = None
    at_most: float | None = None
    plausible: Annotated[list[float], Field(min_length=2, max_length=2)] | None = Field(
        None, description="[lowest, highest] value that can be real; outside it is asked again"
    )


class AskTorqueSource(_Ask):
    torque: AnswerName
    target: Quantity | None = None
    within: Quantity | None = Field(None, description="tolerance: '10 %' or '0.5 N.m'")
    fasteners: int = Field(1, ge=1, le=99)


class AskSerialSource(_Ask):
    serial: AnswerName
    pattern: str | None = Field(None, description="a regular expression that the whole serial must match")


class AskTimeSource(_Ask):
    time: AnswerName


class AskNoteSource(_Ask):
    note: AnswerName


class AskWitnessSource(_Ask):
    witness: AnswerName
    role: Text = "witness"
    codes: dict[str, str] = Field({}, description="spoken code: name; empty uses the shop's list")


ASKS: dict[str, type[_Ask]] = {
    "done": AskDoneSource,
    "yes_no": AskYesNoSource,
    "choice": AskChoiceSource,
    "count": AskCountSource,
    "measure": AskMeasureSource,
    "torque": AskTorqueSource,
    "serial": AskSerialSource,
    "time": AskTimeSource,
    "note": AskNoteSource,
    "witness": AskWitnessSource,
}

AskSource = (
    AskDoneSource
    | AskYesNoSource
    | AskChoiceSource
    | AskCountSource
    | AskMeasureSource
    | AskTorqueSource
    | AskSerialSource
    | AskTimeSource
    | AskNoteSource
    | AskWitnessSource
)


class CaseSource(_Source):
    """One line of a `then` list: where to go when a condition holds."""

    if_: Cel = Field(alias="if")
    go: Target


class OtherwiseSource(_Source):
    otherwise: Target


Then = Target | dict[str, Target] | list[CaseSource | OtherwiseSource]


class PredictionSource(_Source):
    """A question before telling: one right answer and some that are wrong, each in words that can be said."""

    question: Text
    right: Text
    wrong: Annotated[list[Text], Field(min_length=1, max_length=3)]


class StepSource(_Source):
    """One step: cautions, what to do, what is asked, where the answer leads."""

    id: StepId
    say: Text
    brief: Text | None = Field(None, description="the wording for an expert")
    caution: CautionSource | list[CautionSource] | None = None
    why: Text | None = Field(None, description="the reason, for the apprentice")
    hint: Text | None = None
    mistakes: list[Text] = []
    picture: str | None = None
    wait: Quantity | None = Field(None, description="a time that must pass before the answer: '5 min'")
    ask: AskSource | None = Field(None, description="without it sayso waits for 'done'")
    then: Then | None = Field(
        None,
        description="a target; or answer: target, and 'otherwise'; or a list of {if, go}; serials: prefix",
    )
    out_of_limits: Target | None = Field(None, description="where a confirmed value outside its limits leads")
    not_met: Text | None = Field(
        None, description="who may let work go on while the limits are not met: lead hand. Never 'passed'"
    )
    when: Cel | None = Field(None, description="the step is passed over when this is false")
    expect: Cel | None = Field(None, description="the value to expect, for an apprentice's prediction")
    predict: bool | PredictionSource | None = Field(
        None,
        description="asked of a learner before the step is told: a question of its own; true or false for "
        "its torque or 'expect'",
    )
    skip: bool = Field(False, description="true: may be skipped, with a reason")
    ends: Text | None = Field(None, description="the job ends after this step, with this outcome")
    skill: str | None = None
    tools: list[Text] = []
    parts: list[Text | PartSource] = []
    section: Text | None = None


class IncludeSource(_Source):
    """Steps from another file, with its parameters filled in."""

    include: str = Field(min_length=1, description="path of the file, from this file's folder")
    with_: dict[str, str] = Field({}, alias="with")
    when: Cel | None = None
    section: Text | None = None


class ForEachSource(_Source):
    """The same steps once for every item; `<name>` in them stands for the item."""

    for_each: Annotated[dict[str, list[str | dict[str, str]]], Field(min_length=1, max_length=1)]
    steps: Annotated[list[StepSource | IncludeSource | ForEachSource], Field(min_length=1)]
    when: Cel | None = None
    section: Text | None = None


Steps = Annotated[list[StepSource | IncludeSource | ForEachSource], Field(min_length=1)]


class SharedHeader(_Source):
    shared: Line = Field(description="name of these shared steps")
    parameters: dict[str, str | None] = Field(
        {}, description="name: value used when none is given (empty: must be)"
    )


class SharedStepsSource(SharedHeader):
    """A file of steps that other procedures include."""

    steps: Steps


class ProcedureHeader(_Source):
    procedure: StepId
    title: Text
    revision: int = Field(ge=1)
    language: Language = Field("en", description="language of the plain texts")
    translations: list[Language] = Field([], description="further languages that every spoken text has")
    defers_to: Text | None = Field(
        None, description="what comes before this procedure: maker's manual, local codes"
    )
    parameters: dict[str, str | None] = Field(
        {}, description="name: value used when none is given (empty: must be)"
    )
    words: dict[str, str | None] = Field(
        {}, description="word: how it is said in ARPAbet, empty to work it out"
    )
    predict: bool = Field(True, description="false: nothing is asked of a learner before it is told")
    before: BeforeSource = BeforeSource()


class ProcedureSource(ProcedureHeader):
    """A whole procedure file."""

    steps: Steps


def json_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of procedure files, for editors.

    Wider than the models in two ways: `<name>` may stand for any value until it is filled in, and where
    text is wanted a number is taken as it is written.
    """
    schema = TypeAdapter(ProcedureSource | SharedStepsSource).json_schema(by_alias=True)
    widened: dict[str, Any] = _widened(schema)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "sayso procedure",
        **widened,
    }


_TO_FILL_IN = {"type": "string", "pattern": "<[a-z][a-z0-9_.]*>"}


def _widened(node: Any) -> Any:
    if isinstance(node, list):
        return [_widened(item) for item in node]
    if not isinstance(node, dict):
        return node
    node = {key: value if key in ("default", "enum") else _widened(value) for key, value in node.items()}
    kind = node.get("type")
    if kind == "string" and "pattern" not in node and "enum" not in node:
        return {**node, "type": ["string", "number", "boolean"]}
    if kind in ("string", "integer", "number", "boolean"):
        said = {key: node.pop(key) for key in ("title", "description", "default") if key in node}
        return {**said, "anyOf": [node, _TO_FILL_IN]}
    return node
