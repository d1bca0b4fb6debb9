# ruff: noqa: E501  (tables of cases, one a line)
"""What a lead hand writes is what is run: loops, shared steps, parameters, translations, quantities."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
import scipy.constants as si

from sayso.arpabet import ARPABET, PHONES
from sayso.hearing.pronunciations import model_lexicon
from sayso.procedure import ProcedureError, check, read, read_kept
from sayso.procedure.conditions import evaluate
from sayso.procedure.model import AskChoice, AskMeasure, AskTorque, CautionLevel
from tests.procedure.kept import problems, problems_of_text, procedure, with_steps

DEMOS = Path(__file__).parents[2] / "procedures"


def test_a_step_without_a_question_waits_for_done() -> None:
    step = procedure("- {id: key-out, say: Pull the key out.}").steps[0]
    assert (step.ask.kind, step.ask.name) == ("done", "key_out")


def test_words_that_yaml_1_1_turns_into_values_stay_words() -> None:
    """YAML 1.1 makes no, yes, on, 012 and 1.10 into other things (the 'Norway problem')."""
    found = procedure(
        """
        - id: a
          say: Which one?
          ask: {choice: c, options: {no: [norway], on: [switched on], 012: [twelve], 1.10: [one point ten]}}
          then: {no: b, on: b, 012: b, 1.10: b}
        - {id: b, say: Go on.}
        """
    )
    ask = found.steps[0].ask
    assert isinstance(ask, AskChoice)
    assert [option.value for option in ask.options] == ["no", "on", "012", "1.10"]
    assert [case.when for case in found.steps[0].then.cases] == ["no", "on", "012", "1.10"]


def test_a_loop_is_unrolled_with_the_items_written_into_texts_ids_names_and_conditions() -> None:
    found = procedure(
        """
        - for_each: {nut: [front left, rear right]}
          section: Wheel <nut>
          steps:
            - {id: torque-<nut>, say: Torque the <nut> nut., ask: {torque: nut_<nut>, target: 90 N.m, within: 10 %}}
            - id: mark-<nut>
              say: Mark it.
              when: answers.nut_<nut> > 89
              then: torque-<nut>
        """
    )
    assert [s.id for s in found.steps] == [
        "torque-front-left", "mark-front-left", "torque-rear-right", "mark-rear-right",
    ]  # fmt: skip
    assert found.steps[0].say == "Torque the front left nut."
    assert found.steps[0].section == "Wheel front left"
    assert found.steps[1].when == "answers.nut_front_left > 89"
    assert found.steps[3].then.otherwise == "torque-rear-right"


def test_loop_items_may_have_several_values_and_loops_may_stand_inside_loops() -> None:
    found = procedure(
        """
        - for_each: {axle: [{name: front, torque: 50 N.m}, {name: rear, torque: 40 lbf.ft}]}
          steps:
            - for_each: {side: [left, right]}
              steps:
                - id: <axle.name>-<side>
                  say: Torque <axle.name> <side>.
                  ask: {torque: "t_<axle.name>_<side>", target: <axle.torque>, within: 10 %}
        """
    )
    asks = [s.ask for s in found.steps]
    assert [s.id for s in found.steps] == ["front-left", "front-right", "rear-left", "rear-right"]
    assert isinstance(asks[3], AskTorque)
    # 1 lbf.ft in N.m: scipy.constants (CODATA/NIST SP 811 definitions), not our own registry
    assert asks[3].target == pytest.approx(40 * si.pound_force * si.foot, rel=1e-12)
    assert asks[3].unit == "lbf.ft"


def test_shared_steps_are_included_with_their_parameters_and_under_a_condition() -> None:
    found = procedure(
        """
        - {id: ask, say: Is it heavy?, ask: {yes_no: heavy}}
        - {include: common.yaml, with: {machine: Wren 48}, when: answers.heavy, section: Safe}
        """,
        common="""
        shared: common
        parameters: {machine: , place: bay}
        steps:
          - {id: park, say: Park the <machine> in the <place>.}
          - {id: chock, say: Chock it., when: answers.heavy == true}
        """,
    )
    assert found.step("park").say == "Park the Wren 48 in the bay."
    assert found.step("park").when == "answers.heavy"
    assert found.step("chock").when == "(answers.heavy) && (answers.heavy == true)"
    assert found.step("park").section == "Safe"
    assert found.step("park").place.file == "common.yaml"


def test_parameters_are_given_at_the_start_of_the_job() -> None:
    text = with_steps("- {id: a, say: Work on the <side>.}", "parameters: {side: left}\n")
    assert read_kept({"p.yaml": text}, "p.yaml").steps[0].say == "Work on the left."
    assert (
        read_kept({"p.yaml": text}, "p.yaml", parameters={"side": "right"}).steps[0].say
        == "Work on the right."
    )
    needed = with_steps("- {id: a, say: Work on the <side>.}", "parameters: {side: }\n")
    with pytest.raises(ProcedureError, match="'side' needs a value; give it: --set side="):
        read_kept({"p.yaml": needed}, "p.yaml")
    with pytest.raises(ProcedureError, match="no parameter 'sid'; write 'side'"):
        read_kept({"p.yaml": text}, "p.yaml", parameters={"sid": "right"})


def test_how_a_shop_word_is_said_may_be_left_empty_to_be_worked_out() -> None:
    """As procedures/WRITING.md says of `words`."""
    found = procedure("- {id: a, say: Fit it.}", "words:\n  fernhill: F ER N HH IH L\n  heron:\n")
    assert found.words == (("fernhill", "F ER N HH IH L"), ("heron", ""))


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("flange: FLANGE", "'FLANGE' is no ARPAbet phone"),
        ("lift pump: L IH F T", "'lift pump' is not one word"),
    ],
)
def test_how_a_word_is_said_is_checked_where_it_is_written(words: str, what: str) -> None:
    """It reached the model, which stopped with 'a fault in sayso itself' and no line."""
    (problem,) = problems("- {id: a, say: Fit the flange.}", f"words:\n  {words}\n")
    assert (problem.place.line, problem.what, problem.severity) == (6, what, "error")


def test_the_phones_that_may_be_written_are_those_that_a_model_knows() -> None:
    """CMUdict's 39 phones without stress, in which the lexicon of the shipped model is written."""
    lexicon = model_lexicon(Path(__file__).parents[2] / "models" / "shop-english")
    known = {phone for said in lexicon.values() for way in said for phone in way.split()}
    assert frozenset(ARPABET) == PHONES
    assert known - {"SIL", "SPN"} == PHONES
    assert not problems("- {id: a, say: Fit it.}", "words: {flange: f l AE1 n jh}\n")


def test_texts_are_spoken_in_the_language_of_the_job() -> None:
    steps = """
        - id: a
          say: {en: Pull the key out., es: Saque la llave.}
          caution: {level: danger, say: {en: It kills., es: Mata.}}
          why: It cannot drive away.
        """
    spanish = procedure(steps, language="es", head="translations: [es]\n")
    assert spanish.steps[0].say == "Saque la llave."
    assert spanish.steps[0].cautions[0].say == "Mata."
    assert spanish.steps[0].why == "It cannot drive away.", "what is not spoken of itself falls back"


def test_a_caution_that_is_not_translated_stops_the_job() -> None:
    with pytest.raises(ProcedureError, match="this text has no 'es'"):
        procedure(
            """
            - id: a
              say: {en: Pull., es: Tire.}
              caution: {level: danger, say: It kills.}
            """,
            language="es",
        )


def test_next_and_end_are_places_to_go() -> None:
    found = procedure(
        """
        - {id: a, say: Good?, ask: {yes_no: good}, then: {yes: next, no: end}}
        - {id: b, say: Go on.}
        """
    )
    assert [case.target for case in found.steps[0].then.cases] == ["b", "end"]


@pytest.mark.parametrize(
    ("written", "within", "target", "half"),
    [
        ("9 N.m", "10 %", 9.0, 0.9),
        ("9 Nm", "0.5 N.m", 9.0, 0.5),
        ("80 lbf.in", "10 %", 80 * si.pound_force * si.inch, 8 * si.pound_force * si.inch),
        ("25 ft-lb", "2 ft-lb", 25 * si.pound_force * si.foot, 2 * si.pound_force * si.foot),
        ("120 cN.m", "5 %", 1.2, 0.06),
    ],
)
def test_torques_in_any_unit_are_kept_in_newton_metres(
    written: str, within: str, target: float, half: float
) -> None:
    """Expected values from scipy.constants (pound-force, foot, inch as NIST SP 811 defines them)."""
    ask = (
        procedure(f"- {{id: a, say: Torque it., ask: {{torque: t, target: {written}, within: {within}}}}}")
        .steps[0]
        .ask
    )
    assert isinstance(ask, AskTorque)
    assert ask.target == pytest.approx(target, rel=1e-9)
    assert (ask.high - ask.low) / 2 == pytest.approx(half, rel=1e-9)


def test_the_hash_is_over_the_exact_bytes_of_all_files_in_reading_order(tmp_path: Path) -> None:
    """So that `cat main.yaml shared.yaml | sha256sum` gives it too."""
    shared = b"shared: s\nsteps:\n  - {id: b, say: B.}\n"
    main = (
        "\ufeff".encode()
        + b"procedure: p\r\ntitle: P\r\nrevision: 1\r\nsteps:\r\n  - {id: a, say: A.}\r\n  - include: s.yaml\r\n"
    )
    (tmp_path / "main.yaml").write_bytes(main)
    (tmp_path / "s.yaml").write_bytes(shared)
    found = read(tmp_path / "main.yaml")
    assert found.text_hash == hashlib.sha256(main + shared).hexdigest()
    assert [name for name, _ in found.texts] == ["main.yaml", "s.yaml"]
    again = read_kept(dict(found.texts), "main.yaml")
    assert again.text_hash == found.text_hash
    assert again.steps == found.steps


SEAL = """\
shared: seal
parameters: {side: }
steps:
  - {id: seal-<side>, say: Press the seal in.}
  - {id: cap-<side>, say: Fit the cap.}
"""


@pytest.mark.parametrize(
    ("steps", "told"),
    [
        (
            "- {include: seal.yaml, with: {side: left}}\n- {include: seal.yaml, with: {side: left}}",
            "p.yaml:7:15: the step id 'seal-left' comes from here and from the include in line 6; "
            "remove one, or give each another value under 'with' that its ids carry",
        ),
        (
            "- for_each: {side: [left, right, left]}\n  steps: [{id: look-<side>, say: Look.}]",
            "p.yaml:6:36: this item stands in the list twice (first in line 6); remove one",
        ),
        (
            "- {include: seal.yaml}",
            "p.yaml:6:5: 'seal.yaml' needs the parameter 'side'; add 'with: {side: ...}'",
        ),
    ],
)
def test_one_slip_at_an_include_or_a_list_is_one_error_that_names_it(steps: str, told: str) -> None:
    """'write seal-left-a parameter' was the advice, once for each step of the shared file."""
    found = problems(steps, seal=SEAL)
    assert [str(problem) for problem in found if problem.severity == "error"] == [told]


def test_the_near_name_of_an_included_file_has_its_folder(tmp_path: Path) -> None:
    (tmp_path / "shared").mkdir()
    (tmp_path / "shared" / "seal.yaml").write_text(SEAL)
    (tmp_path / "p.yaml").write_text(with_steps("- {include: shared/seall.yaml, with: {side: left}}"))
    with pytest.raises(ProcedureError, match=r"write 'shared/seal\.yaml'"):
        read(tmp_path / "p.yaml")


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        ("- {id: a, say: The <cabel>., }", "'<cabel>' is neither a parameter nor a loop item"),
        ("- {include: nowhere.yaml}", "cannot be read"),
        ("- {include: /etc/passwd}", "relative path"),
        ("- {include: p.yaml}", "includes itself"),
        ("- {for_each: {x: [one, two]}, steps: [{id: a, say: A.}]}", "comes up in every round; write 'a-<x>'"),
        ("- {for_each: {x: [{n: one, t: 1}, {n: two, t: 2}]}, steps: [{id: a, say: A.}]}", "write 'a-<x.n>'"),
        ("- {for_each: {x: [1, 2]}, steps: [{id: a-<x>, say: A., ask: {count: c, from: 1, to: 2}}]}", "write 'c_<x>'"),
        ("- {for_each: {x: []}, steps: [{id: a-<x>, say: A.}]}", "needs a list of items"),
        ("- {id: end, say: A.}", "cannot be called 'end'"),
        ("- {id: a, say: A., wait: 5}", "has no unit; write '5 s' or '5 min'"),
        ("- {id: a, say: A., wait: 5 kg}", "is no time"),
        ("- {id: a, say: A., ask: yes_no}", "write 'ask: {yes_no: a_name}'"),
        ("- {id: a, say: A., ask: {choice: c, options: [one]}}", "at least two options"),
        ("- {id: a, say: A., ask: {choice: c, options: {x: [red], y: [red]}}}", "'red' means both"),
        ("- {id: a, say: A., ask: {colour: c}}", "'colour' is no kind of answer"),
        ("- {id: a, say: A., ask: {serial: s, pattern: '['}}", "no regular expression"),
        ("- {id: a, say: A., then: [{otherwise: end}, {if: 'true', go: end}]}", "'otherwise' is not the last line"),
        ("- {id: a, say: A., parts: [{name: n, quantity: some}]}", "is not a number"),
        ("- [a, b]", "a step must be 'key: value' lines"),
        ("- {id: a, say: [A.]}", "must be text, not a list"),
        ("- {id: a, say: A., ask: {measure: m, unit: mm, below: {x}}}", "write <x> to fill it in"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_told(steps: str, said: str) -> None:
    with pytest.raises(ProcedureError) as raised:
        procedure(steps)
    assert said in str(raised.value)


COMMON = "shared: common\nparameters: {machine: }\nsteps:\n  - {id: park, say: Park the <machine>.}\n"


@pytest.mark.parametrize(
    ("steps", "shared", "said"),
    [
        ("- {include: common.yaml}", COMMON, "p.yaml:6:5: 'common.yaml' needs the parameter 'machine'"),
        ("- {include: common.yaml, with: {machin: x}}", COMMON, "p.yaml:6:35: 'common.yaml' has no parameter 'machin'; write 'machine'"),
        ("- {include: common.yaml}", "steps: []\n", "common.yaml:1:1: an included file must start with 'shared: name'"),
        ("- {include: common.yaml}", "shared: c\nparameters: [a]\nsteps: []\n", "'parameters' must be 'key: value' lines"),
        ("- {include: common.yaml}", "shared: c\nsteps:\n  - include: common.yaml\n", "common.yaml:3:14: 'common.yaml' includes itself"),
        ("- {include: common.yaml, when: answers.x =}", "shared: c\nsteps:\n  - {id: a, say: A.}\n", "not a CEL expression"),
        ("- {include: comon.yaml}", COMMON, "the file 'comon.yaml' cannot be read"),
        ("- {for_each: {x: [a]}, step: []}", COMMON, "the key 'step' is not known here; write 'steps'"),
        ("- {for_each: [a]}", COMMON, "'for_each' needs one name and its list"),
        ("- {for_each: {X: [a]}, steps: []}", COMMON, "'X' cannot name the items"),
        ("- {for_each: {x: [[a]]}, steps: [{id: a, say: A.}]}", COMMON, "a loop item must be text"),
        ("- {for_each: {x: [{n: a}]}, steps: [{id: a, say: The <x>.}]}", COMMON, "'<x>' has several values; write one of: <x.n>"),
        ("- {for_each: {x: [{nut: a}]}, steps: [{id: a, say: The <x.nit>.}]}", COMMON, "'<x.nit>' is not a value of 'x'; write '<x.nut>'"),
        ("- {for_each: {x: [a]}, steps: [{id: a, say: The <x.n>.}]}", COMMON, "'x' has no values of its own; write '<x>'"),
    ],
)  # fmt: skip
def test_faults_of_includes_and_loops_are_told_where_they_are(steps: str, shared: str, said: str) -> None:
    with pytest.raises(ProcedureError) as raised:
        procedure(steps, common=shared)
    assert said in str(raised.value), str(raised.value)


@pytest.mark.parametrize(
    ("target", "within", "said"),
    [
        ("-9 N.m", "10 %", "is not above zero"),
        ("9 N.m", "0 %", "is not above zero"),
        ("9 N.m", "100 %", "allows no torque at all to be wrong"),
        ("9 N.m", "10", "write '10 %' or '10 N.m'"),
        ("9 N.m", "9 N.m", "as much as the target itself"),
        ("nine N.m", "10 %", "does not start with a number"),
        ("9,5 N.m", "10 %", "write a point"),
        ("9 mil", "10 %", "mil"),
    ],
)
def test_torques_that_cannot_be_are_told(target: str, within: str, said: str) -> None:
    with pytest.raises(ProcedureError) as raised:
        procedure(f"- {{id: a, say: T., ask: {{torque: t, target: '{target}', within: '{within}'}}}}")
    assert said in str(raised.value), str(raised.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the file is empty"),
        ("# only a remark\n", "the file is empty"),
        ("- a\n", "the file must be 'key: value' lines"),
        ("shared: x\nsteps: []\n", "holds shared steps, not a procedure"),
        ("procedure: p\ntitle: P\nrevision: 1\nsteps: []\n", "'steps' must be a list"),
        ("procedure: p\ntitle: P\nrevision: 1\n", "'steps' is missing"),
        ("a: &x 1\nb: *x\n", "an anchor '&x' is not allowed"),
        ("a: !!python/object:os.system x\n", "a tag"),
        ("a: 1\n---\nb: 2\n", "a second document"),
        ("a: " + "[" * 60 + "]" * 60, "more than 40 levels"),
        ("a: \x07\n", "a character that YAML does not allow"),
        ("a: 1\nb: x\u2028y\n", "p.yaml:2:5: a line break that editors do not show (U+2028)"),
        ("say: Note: this.\n", "a second ': '"),
        ("{1: 2}: 3\n", "a key must be plain text"),
    ],
)
def test_yaml_that_is_no_procedure_is_told(text: str, said: str) -> None:
    with pytest.raises(ProcedureError) as raised:
        read_kept({"p.yaml": text}, "p.yaml")
    assert said in str(raised.value)


def test_a_file_that_multiplies_itself_is_refused_at_once() -> None:
    """The 'billion laughs' of YAML: nine levels of nine aliases."""
    levels = "a: &a [x, x, x, x, x, x, x, x, x]\n"
    levels += "".join(
        f"{n}: &{n} [{', '.join(['*' + p] * 9)}]\n" for p, n in zip("abcdefgh", "bcdefghi", strict=True)
    )
    with pytest.raises(ProcedureError, match="not allowed"):
        read_kept({"p.yaml": levels}, "p.yaml")


def test_loops_in_loops_that_grow_without_measure_are_refused() -> None:
    items = ", ".join(str(n) for n in range(40))
    steps = "{id: s-<a>-<b>-<c>, say: S.}"
    text = with_steps(
        f"- for_each: {{a: [{items}]}}\n  steps:\n    - for_each: {{b: [{items}]}}\n      steps:\n"
        f"        - for_each: {{c: [{items}]}}\n          steps: [{steps}]\n"
    )
    with pytest.raises(ProcedureError, match="more than 20,000 steps"):
        read_kept({"p.yaml": text}, "p.yaml")


def test_text_that_is_not_utf_8_is_told_with_its_place(tmp_path: Path) -> None:
    (tmp_path / "p.yaml").write_bytes(b"procedure: p\ntitle: caf\xe9\n")
    assert str(check(tmp_path / "p.yaml")[0]).endswith(
        "p.yaml:2:11: the file is not UTF-8 text; save it as UTF-8"
    )


@pytest.mark.parametrize("file", sorted(DEMOS.glob("*.yaml")), ids=lambda f: f.stem)
def test_the_demo_procedures_have_nothing_to_put_right(file: Path) -> None:
    assert [str(problem) for problem in check(file)] == []


@pytest.mark.parametrize("file", sorted(DEMOS.glob("*.yaml")), ids=lambda f: f.stem)
def test_the_demo_procedures_defer_and_caution(file: Path) -> None:
    found = read(file)
    for needed in ("maker's manual", "local codes", "licensed practice"):
        assert needed in found.defers_to
    assert any(caution.level.needs_acknowledgement for step in found.steps for caution in step.cautions)


def test_the_wait_of_the_demo_is_long_enough_for_its_resistor() -> None:
    """V(t) = V0 exp(-t / RC): 2.2 kilohm on 8200 microfarad from 52 V (a capacitor's discharge, any handbook)."""
    import math

    step = read(DEMOS / "wren-48-drive-controller.yaml").step("discharge")
    assert isinstance(step.ask, AskMeasure)
    assert step.ask.below is not None
    assert 52 * math.exp(-step.wait_s / (2200 * 8200e-6)) < step.ask.below
    assert step.cautions[0].level is CautionLevel.WARNING


def test_the_schema_is_a_json_schema_and_the_demos_fit_it() -> None:
    """Checked with the library jsonschema against JSON Schema 2020-12, as an editor does."""
    jsonschema = pytest.importorskip("jsonschema")
    import yaml

    from sayso.procedure.source import json_schema

    schema = json.loads(json.dumps(json_schema()))
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for file in sorted(DEMOS.rglob("*.yaml")):
        data = yaml.load(file.read_text("utf-8"), Loader=_Yaml12)
        assert list(validator.iter_errors(data)) == [], file
    broken = yaml.load((DEMOS / "wren-48-drive-controller.yaml").read_text("utf-8"), Loader=_Yaml12)
    broken["steps"][1]["saay"] = broken["steps"][1].pop("say")
    assert not validator.is_valid(broken)


class _Yaml12:
    """pyyaml with YAML 1.2's core values, as editors read them: no 'yes' and 'no', keys as text."""

    def __new__(cls, stream: str):  # type: ignore[no-untyped-def]
        import re

        import yaml

        class Loader(yaml.SafeLoader):
            def construct_mapping(self, node, deep=False):  # type: ignore[no-untyped-def]
                return {str(k.value): self.construct_object(v, deep=True) for k, v in node.value}

        Loader.yaml_implicit_resolvers = {
            first: [(tag, regexp) for tag, regexp in found if tag != "tag:yaml.org,2002:bool"]
            for first, found in yaml.SafeLoader.yaml_implicit_resolvers.items()
        }
        Loader.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile("^(true|false)$"), list("tf"))
        Loader.add_constructor(
            "tag:yaml.org,2002:map", lambda self, node: self.construct_mapping(node, deep=True)
        )
        return Loader(stream)


@pytest.mark.parametrize("value", ['5"', "5'", "C:\\wrench", 'both " and \\', "two\nlines", '"', "plain"])
@pytest.mark.parametrize("quoted", ['"<size>"', "'<size>'", '"""<size>"""', "'''<size>'''"])
def test_a_value_with_a_quote_or_a_backslash_is_the_same_text_in_a_condition(value: str, quoted: str) -> None:
    """Against CEL itself: the condition holds for that answer, and for no other."""
    text = with_steps(
        "- {id: a, say: A., ask: {serial: size}}\n- id: b\n  say: B.\n  when: >-\n"
        f"    answers.size == {quoted}",
        "parameters: {size: left}\n",
    )
    condition = read_kept({"p.yaml": text}, "p.yaml", parameters={"size": value}).step("b").when
    assert evaluate(condition, {"size": value}) is True
    assert evaluate(condition, {"size": value + "x"}) is False


@pytest.mark.parametrize(
    "step",
    [
        "id: a-<v>\n  say: A.",
        "id: a\n  say: A.\n  ask: {yes_no: x_<v>}",
        "id: a\n  say: A.\n  ask: {yes_no: x}\n  then: {yes: b-<v>, no: end}",
        "id: a\n  say: A.\n  ask: {torque: x, target: <v> N.m, within: 10 %}",
        "id: a\n  say: A.\n  ask: {measure: x, unit: mm, above: <v>}",
        "id: a\n  say: A.\n  wait: <v> min",
        "id: a\n  say: A.\n  when: answers.x == <v> && x",
    ],
)
def test_a_placeholder_that_nothing_fills_is_one_error(step: str) -> None:
    """It was told again as an id of a wrong form, with 'a-v' to write instead."""
    (found,) = [one for one in problems(f"- {step}") if one.severity == "error"]
    assert found.what == "'<v>' is neither a parameter nor a loop item"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            # the title is missing, and no step that names the parameter is to blame
            "procedure: p\nrevision: 1\ndefers_to: D.\nparameters: {axle: heavy}\nsteps:\n  - {id: a, say: The <axle> axle.}\n",
            ["p.yaml:1:1: 'title' is missing; add 'title: ...'"],
        ),
        (
            "- for-each: {nut: [one, two]}\n  steps:\n    - {id: a-<nut>, say: Nut <nut>.}",
            ["p.yaml:6:5: 'steps' inside 'steps' stands under 'for_each' only; write 'for_each: {nut: [one, two]}' before it"],
        ),
        (
            "- {id: a, say: A., ask: {measure: m, unit: V, at_least: 23,5, at_most: 29,5}}",
            ["p.yaml:6:62: '5' stands alone after a comma, which begins the next entry inside {...}; write a number with a point, 0.25"],
        ),
        (
            "- {id: a, say: A., ask: {measure: m, unit: V, plausible: 0-60}}",
            ["p.yaml:6:60: 'plausible' needs two values, the lowest and the highest; write them as [0, 60], numbers with a point: [0, 2.5]"],
        ),
        (
            "- {id: a, say: A., ask: {torque: t, target: 9 N.m, within: [8, 10]}}",
            ["p.yaml:6:62: 'within' must be one tolerance to each side; write it as '10 %' or '0.5 N.m'"],
        ),
        (
            "- {id: a, say: A., ask: {measure: m, unit: Volt}}",
            ["p.yaml:6:46: unit: unit 'Volt' is not known; write 'volt'"],
        ),
        (
            "- {id: a, say: A., ask: {measure: m, unit: mv}}",
            ["p.yaml:6:46: unit: unit 'mv' is not known; write a unit such as N.m, lbf.ft, lbf.in, V, A, ohm, mm, kg, s, %"],
        ),
        (
            "- {id: a, say: A., ask: {measure: m, unit: Ohm}}",
            ["p.yaml:6:46: unit: unit 'Ohm' is not known; write 'ohm'"],
        ),
        (
            "- {id: a, say: A., caution: {level: attention, say: It burns.}}",
            ["p.yaml:6:39: 'level' 'attention' is not known; write one of: danger, warning, caution, notice"],
        ),
        (
            "- id: a\n  say: A.\n - id: b\n   say: B.",
            ["p.yaml:8:4: this '-' stands neither under the one above nor where a list begins; line its '-' up with the '-' of the lines above"],
        ),
        (
            "- {id: a, say: A., ask: {measure: gap, unit: mm}}\n- id: b\n  say: B.\n  when: answers.gap > 0,3",
            ["p.yaml:9:26: condition 'answers.gap > 0,3': this is not a CEL expression; write answers.gap > 0.3"],
        ),
        (
            "- {id: a, say: A., ask: {count: n, from: 1, to: 9}}\n- id: b\n  say: B.\n  when: answers.n in 4, 8",
            ["p.yaml:9:25: condition 'answers.n in 4, 8': this is not a CEL expression; write answers.n in [4, 8]"],
        ),
    ],
)  # fmt: skip
def test_a_slip_of_a_newcomer_is_one_error_that_says_what_to_write(text: str, told: list[str]) -> None:
    """From a first procedure that was written from nothing. 'Attention' was told to be 'caution', a lower level
    than may have been meant; a missing title had every step with a parameter to blame."""
    found = problems_of_text(text) if text.startswith("procedure") else problems(text)
    assert [str(problem) for problem in found if problem.severity == "error"] == told


@pytest.mark.parametrize("given", ["Heavy", "heavy ", "HEAVY"])
def test_a_parameter_in_other_letters_leaves_no_step_out_without_a_word(tmp_path: Path, given: str) -> None:
    steps = '- {id: a, say: A.}\n- id: b\n  say: B.\n  when: \'"<axle>" == "heavy"\''
    (tmp_path / "p.yaml").write_text(with_steps(steps, "parameters: {axle: heavy}\n"))
    with pytest.raises(ProcedureError, match="with 'heavy', which are two texts to it; write"):
        read(tmp_path / "p.yaml", parameters={"axle": given})
    assert len(read(tmp_path / "p.yaml", parameters={"axle": "light"}).steps) == 2
    kept = {"p.yaml": (tmp_path / "p.yaml").read_text()}  # a job that was begun so can be taken up
    assert len(read_kept(kept, "p.yaml", parameters={"axle": given}).steps) == 2


def test_a_file_is_not_told_to_include_itself(tmp_path: Path) -> None:
    (tmp_path / "brake.yaml").write_text(with_steps("- {include: brakes.yaml}"))
    with pytest.raises(ProcedureError, match=r"check the path; it starts from"):
        read(tmp_path / "brake.yaml")
