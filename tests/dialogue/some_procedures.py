"""Procedures of any shape, for properties: every kind of answer, branch, caution, wait and loop."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import strategies as st

from sayso.procedure.model import (
    END,
    Ask,
    AskChoice,
    AskCount,
    AskDone,
    AskMeasure,
    AskNote,
    AskSerial,
    AskTime,
    AskTorque,
    AskWitness,
    AskYesNo,
    Before,
    Branch,
    Branches,
    Caution,
    CautionLevel,
    Option,
    Part,
    Place,
    Procedure,
    Step,
)

_OPTIONS = (Option("left", ("left", "left side")), Option("right", ("right hand", "off side")))
_ASKS: tuple[Ask, ...] = (
    AskDone(""),
    AskDone("", read_back=True),
    AskYesNo(""),
    AskYesNo("", read_back=True),
    AskYesNo(""),
    AskYesNo(""),
    AskChoice("", _OPTIONS),
    AskChoice("", _OPTIONS),
    AskChoice("", _OPTIONS, read_back=True),
    AskCount("", 1, 20),
    AskCount("", 1, 20, read_back=True),
    AskMeasure("", "V", below=10.0, high=60.0),
    AskMeasure("", "V", below=10.0, high=60.0, read_back=True),
    AskTorque("", 9.0, 8.1, 9.9, fasteners=2),
    AskSerial("", "[A-Z]{2}[0-9]{3}"),
    AskTime(""),
    AskNote(""),
    AskWitness(""),
)

#: Kinds that branch, and work between them.
_FORKS: tuple[Ask, ...] = (AskYesNo(""), AskChoice("", _OPTIONS), AskCount("", 1, 20), AskDone(""))

#: What a person may say to each kind, right and wrong.
WORDS: dict[str, tuple[str, ...]] = {
    "done": ("done", "finished", "not done"),
    "yes_no": ("yes", "no"),
    "choice": ("left", "right hand"),
    "count": ("eight", "twelve", "fifteen", "fifty", "twelve no thirteen", "8"),
    "measure": ("three point two", "twelve volts", "eight", "fifty", "9.5"),
    "torque": ("nine", "nine point five", "twelve", "eighty inch pounds", "fourteen"),
    "serial": ("kilo delta one two three", "HK456", "bravo delta nine nine"),
    "time": ("ten thirty", "14:05"),
    "note": ("the left one is scratched",),
    "witness": ("four four seven one", "meg hale", "one two three four"),
}
_CASES = {"yes_no": ("yes", "no"), "choice": ("left", "right"), "count": ("8", "12"), "serial": ("KD", "HK")}

# Strategies are made once: making them anew for every example took most of the time of the test.
_count = st.integers(4, 14)
_ask = st.sampled_from(_ASKS)
_fork = st.sampled_from(_FORKS)
_number = st.integers(0, 9)
_yes = st.booleans()
_levels = st.lists(st.sampled_from(list(CautionLevel)), max_size=2)
_rarely = st.sampled_from([False] * 4 + [True])


@st.composite
def procedures(draw: st.DrawFn) -> Procedure:
    count = draw(_count)
    # Half of the procedures are all forks, without cautions and waits: a changed answer then comes up often.
    forks = draw(_yes)
    names = [f"step-{i}" for i in range(count)]

    def a_target() -> str:
        """Mostly forward, as in real procedures: a way that turns back leaves no branch behind."""
        number = draw(_number)
        if draw(_rarely) and draw(_yes):
            return names[number] if number < min(9, count) else END
        return names[min(i + 1 + number % 4, count - 1)]

    steps = []
    for i, name in enumerate(names):
        # Now and then two steps give the same answer, as in a loop written out.
        answer = f"answer_{draw(_number) % count}" if draw(_rarely) else f"answer_{i}"
        ask = replace(draw(_fork if forks else _ask), name=answer)
        then = Branches(
            tuple(Branch(case, a_target()) for case in _CASES.get(ask.kind, ()) if not draw(_rarely)),
            a_target() if draw(_rarely) else None,
            "prefix" if ask.kind == "serial" else "value",
        )
        levels = [] if forks else draw(_levels)
        limited = ask.kind in ("measure", "torque")
        steps.append(
            Step(
                id=name,
                say=f"Do {name}.",
                ask=ask,
                place=Place("any.yaml", i + 1, 1),
                cautions=tuple(Caution(level, f"{level} at {name}.") for level in levels),
                question="What is it?" if draw(_yes) else "",
                why="Because." if draw(_yes) else "",
                brief=f"{name}." if draw(_yes) else "",
                wait_s=20.0 if not forks and draw(_rarely) else 0.0,
                then=then,
                when=f"answers.answer_{draw(_number) % count} == 8" if draw(_rarely) else "",
                may_skip=draw(_yes),
                ends="sent back" if draw(_rarely) and draw(_yes) else "",
                out_of_limits=names[draw(_number) % count] if limited and draw(_yes) else "",
                not_met="lead hand" if limited and draw(_yes) else "",
            )
        )
    before = Before(("a meter",), (Part("screw", 2),), ("The key is out.",)) if draw(_rarely) else Before()
    return Procedure("any", "Any job", 1, tuple(steps), "f" * 64, "any.yaml", before)
