"""Procedures of any shape, for properties: every kind of answer, branch, caution, wait, loop."""

from __future__ import annotations

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


def asks(name: str) -> st.SearchStrategy[Ask]:
    critical = st.booleans()
    return st.one_of(
        st.builds(AskDone, st.just(name), read_back=critical),
        st.builds(AskYesNo, st.just(name), read_back=critical),
        st.builds(
            AskChoice,
            st.just(name),
            st.just((Option("left", ("left", "left side")), Option("right", ("right hand", "off side")))),
            read_back=critical,
        ),
        st.builds(AskCount, st.just(name), st.just(1), st.just(20), read_back=critical),
        st.builds(
            AskMeasure,
            st.just(name),
            st.just("V"),
            below=st.just(10.0),
            high=st.just(60.0),
            read_back=critical,
        ),
        st.builds(
            AskTorque, st.just(name), st.just(9.0), st.just(8.1), st.just(9.9), fasteners=st.integers(1, 3)
        ),
        st.builds(AskSerial, st.just(name), st.just("[A-Z]{2}[0-9]{3}")),
        st.builds(AskTime, st.just(name), read_back=critical),
        st.builds(AskNote, st.just(name)),
        st.builds(AskWitness, st.just(name)),
    )


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

_levels = st.sampled_from(list(CautionLevel))


@st.composite
def procedures(draw: st.DrawFn) -> Procedure:
    count = draw(st.integers(1, 7))
    names = [f"step-{i}" for i in range(count)]
    targets = st.sampled_from([*names, END])
    steps = []
    for i, name in enumerate(names):
        answer = f"answer_{draw(st.integers(0, count - 1))}" if draw(st.booleans()) else f"answer_{i}"
        ask = draw(asks(answer))
        cases = {
            "yes_no": ("yes", "no"),
            "choice": ("left", "right"),
            "count": ("8", "12"),
            "serial": ("KD", "HK"),
        }.get(ask.kind, ())
        then = Branches(
            tuple(Branch(case, draw(targets)) for case in cases if draw(st.booleans())),
            draw(st.one_of(st.none(), st.none(), targets)),
            "prefix" if ask.kind == "serial" else "value",
        )
        steps.append(
            Step(
                id=name,
                say=f"Do {name}.",
                ask=ask,
                place=Place("any.yaml", i + 1, 1),
                cautions=tuple(
                    Caution(level, f"{level} at {name}.") for level in draw(st.lists(_levels, max_size=2))
                ),
                question=draw(st.sampled_from(["", "What is it?"])),
                why=draw(st.sampled_from(["", "Because."])),
                brief=draw(st.sampled_from(["", f"{name}."])),
                wait_s=draw(st.sampled_from([0.0, 0.0, 0.0, 20.0])),
                then=then,
                when=draw(
                    st.sampled_from(["", "", "", f"answers.answer_{draw(st.integers(0, count - 1))} == 8"])
                ),
                may_skip=draw(st.booleans()),
                ends=draw(st.sampled_from(["", "", "", "", "sent back"])),
                out_of_limits=draw(st.sampled_from(["", *names]))
                if ask.kind in ("measure", "torque")
                else "",
            )
        )
    before = (
        Before(("a meter",), (Part("screw", 2),), ("The key is out.",)) if draw(st.booleans()) else Before()
    )
    return Procedure("any", "Any job", 1, tuple(steps), "f" * 64, "any.yaml", before)
