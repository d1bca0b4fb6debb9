"""Every state of the page, each reached by the real dialogue: for the tests, and for the eye.

`python -m tests.screen.page_states FOLDER` takes a picture of each, at both sizes, dark and light.
"""

from __future__ import annotations

import re
import sys
import time
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

from playwright.sync_api import Browser, Page, expect

from sayso.dialogue import advance, begin
from sayso.dialogue.effects import ShowStep
from sayso.dialogue.events import (
    DeviceLost,
    Event,
    Heard,
    NoiseChanged,
    NoMatch,
    Started,
    TimerDone,
    VoiceFinished,
)
from sayso.dialogue.state import Awaiting, State
from sayso.procedure import read
from sayso.procedure.drawing import svg
from sayso.procedure.model import (
    AskCount,
    AskDone,
    AskMeasure,
    AskSerial,
    AskTorque,
    AskWitness,
    Before,
    Branch,
    Branches,
    Caution,
    CautionLevel,
    Place,
    Procedure,
    Step,
)
from sayso.screen.page_view import page_view
from sayso.screen.server import Screen
from tests.screen.browser import chromium, offline

SIZES = [(1366, 768), (1920, 1080)]
THEMES = ["dark", "light"]
PICTURES = Path(__file__).parents[2] / "procedures"
HERE = Place("tug.yaml", 1, 1)


def step(name: str, say: str, ask: object = None, level: CautionLevel | None = None, text: str = "") -> Step:
    cautions = (Caution(level, text),) if level else ()
    section = "Make safe" if level else "Refit"
    return Step(name, say, ask or AskDone(name), HERE, cautions, section=section)  # type: ignore[arg-type]


#: The longest that the checks let through without a word: 20 words for a caution, 20 for an instruction.
LONG_CAUTION = (
    "A battery can deliver enough current to burn you and melt tools. Take off rings and watch. "
    "Wear eye protection."
)
LONG_STEP = (
    "Measure the resistance between the two outer bus pins of the service socket under the driver's seat."
)


def tug() -> Procedure:
    pins = step("pins", "Count the populated pins of the signal plug.", AskCount("pins", 4, 16, True))
    pins = replace(pins, picture="pictures/signal-plug.svg")
    forks = Branches((Branch("8", "bars"), Branch("12", "long")), "bars")
    steps = (
        step("chock", "Chock both rear wheels on both sides."),
        step(
            "lift",
            "Lift the old battery out, straight up.",
            None,
            CautionLevel.DANGER,
            "Twelve hundred kilograms hang above. Nobody stands under or beside the load. It will crush you.",
        ),
        step("apart", "Pull the battery connector apart.", None, CautionLevel.WARNING, LONG_CAUTION),
        step(
            "out",
            "Lift the controller out.",
            None,
            CautionLevel.CAUTION,
            "The controller weighs nine kilograms and its fins are sharp. Wear gloves.",
        ),
        step("plug", "Unplug the signal plug.", None, CautionLevel.NOTICE, "The cables tear if pulled."),
        replace(step("soak", "Let the capacitors discharge."), wait_s=300.0),
        replace(pins, then=forks),
        step("long", LONG_STEP, AskMeasure("bus", "ohm", at_least=54, at_most=66, low=0, high=1000)),
        step("bars", "Torque the two busbar screws.", AskTorque("bars", 9.0, 8.1, 9.9, fasteners=2)),
        step("serial", "Read the serial number of the new controller to me.", AskSerial("serial")),
        step("witness", "The lead hand must see the brake hold.", AskWitness("w", "lead hand")),
    )
    return Procedure(
        "tug", "Wren 48 platform tug, drive controller replacement", 3, steps, "0" * 64, "tug.yaml"
    )


SAID = {
    "done": "done",
    "count": "twelve",
    "measure": "sixty",
    "torque": "nine",
    "serial": "k d one two",
    "yes_no": "yes",
}


class Shown:
    """A job without a voice: events go in, the page shows what the dialogue says."""

    def __init__(
        self,
        browser: Browser,
        procedure: Procedure | None = None,
        *,
        level: str = "full",
        learns: bool = False,
    ) -> None:
        self.pressed: list[tuple[str, str]] = []
        found = procedure or tug()
        self.screen = Screen(
            lambda kind, text: self.pressed.append((kind, text)), pictures=PICTURES, drawing=svg(found)
        )
        self.screen.start()
        self.state: State = begin(found)
        self.at = int(time.time() * 1000)
        self.context = browser.new_context(viewport={"width": 1366, "height": 768})
        self.online = ExitStack()
        self.online.enter_context(offline(self.context))
        self.page: Page = self.context.new_page()
        self.errors: list[str] = []
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))
        self.page.goto(self.screen.address)
        asked = tuple(q.id for questions in self.state.plan.questions for q in questions) if learns else ()
        self.give(
            Started(
                self.at,
                "job-1",
                machine="tug 12",
                person="Ann",
                level=level,
                ask_first=asked,
                witnesses=WITNESSES,
            )
        )  # type: ignore[arg-type]
        self.finish_talking()

    def give(self, event: Event) -> None:
        self.at += 10
        self.state, effects = advance(self.state, event)
        for effect in effects:
            if isinstance(effect, ShowStep):
                self.screen.publish(page_view(effect.view))

    def finish_talking(self) -> None:
        self.give(VoiceFinished(self.at, self.state.utterance))

    def hear(self, words: str, confidence: float = 0.97) -> None:
        self.give(Heard(self.at, tuple(words.split()), confidence=confidence))
        self.finish_talking()

    def to(self, name: str, awaiting: Awaiting | None = None) -> None:
        """Work on until the step `name` is asked about (or until it is `awaiting` something else there)."""
        for _ in range(150):
            state = self.state
            there = state.at_step and state.step.id == name
            if there and state.awaiting is (awaiting or Awaiting.ANSWER):
                return
            if state.awaiting is Awaiting.WAIT and not (there and awaiting is Awaiting.WAIT):
                self.at = state.visit.due_ms + 1
                self.give(TimerDone(self.at, next(iter(state.timers))))
                self.finish_talking()
            else:
                self.hear(
                    {
                        Awaiting.READY: "ready",
                        Awaiting.CAUTION: "understood",
                        Awaiting.CONFIRM: "yes",
                        Awaiting.PREDICT: "tell me",
                    }.get(state.awaiting)
                    or DEMO_SAID.get(state.step.id)
                    or ("twenty four" if "cable-torque" in state.step.id else SAID[state.step.ask.kind])
                )
        raise AssertionError(f"the job did not come to {name}: {self.state.awaiting}")

    def caught_up(self) -> None:
        """Wait until the page shows the latest (however busy the machine is), unless it lost contact."""
        number, _ = self.screen.live.snapshot()
        self.page.wait_for_function(
            "n => Number(document.body.dataset.seen) >= n || document.body.classList.contains('lost')",
            arg=number,
        )

    def close(self) -> None:
        self.context.close()
        self.screen.stop()
        self.online.close()


State_ = Callable[[Shown], None]


def _speaking(shown: Shown) -> None:
    shown.to("chock")
    shown.give(Heard(shown.at, ("repeat",)))


def _read_back(shown: Shown) -> None:
    shown.to("pins")
    shown.hear("twelve")


def _changed_way(shown: Shown) -> None:
    shown.to("bars")
    shown.hear("change pins")
    shown.hear("eight")
    shown.hear("yes")


def _not_understood(shown: Shown) -> None:
    shown.to("pins")
    shown.hear("the radio said so", 0.4)


def _deviation(shown: Shown) -> None:
    shown.to("long")
    shown.hear("one hundred and twenty ohms")
    shown.hear("yes")


def _stop(shown: Shown) -> None:
    shown.to("chock")
    shown.hear("stop")


def _ended(shown: Shown) -> None:
    _stop(shown)
    shown.hear("yes")


def _held(shown: Shown) -> None:
    shown.to("bars")
    shown.hear("hold")


def _noise(shown: Shown) -> None:
    shown.to("serial")
    shown.give(NoiseChanged(shown.at, True, 8.0))
    shown.finish_talking()


def _lost_microphone(shown: Shown) -> None:
    shown.to("chock")
    shown.give(DeviceLost(shown.at, "headset"))


def _muted(shown: Shown) -> None:
    shown.to("chock")
    shown.screen.publish({"muted": True})


def _reconnecting(shown: Shown) -> None:
    shown.to("bars")
    # not `wait_for_function` with an expression: the page's own rules forbid `eval` from the second look on
    expect(shown.page.locator("#step-text")).to_have_text(re.compile("^Torque"))
    shown.screen.stop()
    shown.page.wait_for_selector("body.lost")


def _map(shown: Shown) -> None:
    shown.to("pins")
    shown.page.locator("#map-key").click()


def _misheard(shown: Shown) -> None:
    shown.to("serial")
    shown.give(NoMatch(shown.at))
    shown.finish_talking()


def _no_job(shown: Shown) -> None:
    """As `sayso pages` shows it: nothing was ever published."""
    shown.screen.live._latest = {}
    shown.screen.publish({})


def _complete(shown: Shown) -> None:
    _deviation(shown)
    shown.hear("sixty")
    shown.hear("yes")
    shown.to("bars")
    for words in ("twenty", "yes", "nine", "yes"):
        shown.hear(words)
    shown.to("witness")
    for words in ("meg hale", "yes"):
        shown.hear(words)


def _keep_reason(shown: Shown) -> None:
    _changed_way(shown)
    shown.hear("keep it")


def _note(shown: Shown) -> None:
    shown.to("bars")
    shown.hear("note")


def _inch_pounds(shown: Shown) -> None:
    shown.to("bars")
    shown.hear("inch pound wrench")


def _brief(shown: Shown) -> None:
    shown.to("pins")
    shown.hear("less detail")
    shown.hear("less detail")


def _before(_: Shown) -> None:
    """A job that begins with its list of tools."""


WITNESSES = (("4471", "Meg Hale"),)

STATES: Mapping[str, State_] = {
    "waiting-for-a-job": _no_job,
    "listening": lambda shown: shown.to("chock"),
    "speaking": _speaking,
    "danger": lambda shown: shown.to("lift", Awaiting.CAUTION),
    "danger-acknowledged": lambda shown: shown.to("lift"),
    "warning": lambda shown: shown.to("apart", Awaiting.CAUTION),
    "warning-acknowledged": lambda shown: shown.to("apart"),
    "caution": lambda shown: shown.to("out"),
    "notice": lambda shown: shown.to("plug"),
    "timer": lambda shown: shown.to("soak", Awaiting.WAIT),
    "picture": lambda shown: shown.to("pins"),
    "read-back": _read_back,
    "not-understood": _not_understood,
    "long-step": lambda shown: shown.to("long"),
    "out-of-limits": _deviation,
    "torque": lambda shown: shown.to("bars"),
    "serial": lambda shown: shown.to("serial"),
    "hold-point": lambda shown: shown.to("witness"),
    "hold": _held,
    "noise": _noise,
    "microphone-lost": _lost_microphone,
    "microphone-muted": _muted,
    "reconnecting": _reconnecting,
    "changed-way": _changed_way,
    "stop": _stop,
    "ended": _ended,
    "complete": _complete,
    "keep-reason": _keep_reason,
    "note": _note,
    "inch-pounds": _inch_pounds,
    "brief": _brief,
    "branches": _map,
}
#: States of a learner's job, in which questions come before steps.
LEARNERS_STATES: Mapping[str, State_] = {
    "learners-question": lambda shown: shown.to("bars", Awaiting.PREDICT),
}
#: States of a job that begins with a list of tools and parts.
FIRST_STATES: Mapping[str, State_] = {"before-the-job": _before}

#: The fullest pages of the demo: many tools; a warning, a picture and a wait; a picture and a torque.
DEMO_STATES: Mapping[str, State_] = {
    "demo-tools": _before,
    "demo-discharge-wait": lambda shown: shown.to("discharge", Awaiting.WAIT),
    "demo-discharge-voltage": lambda shown: shown.to("discharge"),
    "demo-mount": lambda shown: shown.to("mount"),
    "demo-stand": lambda shown: shown.to("raise"),
    "demo-speed": lambda shown: shown.to("speed"),
}
DEMO_SAID = {
    "prove-meter": "thirteen",
    "isolated": "three",
    "discharge": "three",
    "plug-pins": "twelve",
    "serial": "hotel kilo one two three four five six",
    "mount": "ten point eight newton metres",
    "earth-strap": "nine point five",
    "tyre": "four hundred",
    "ratio": "twenty",
}

BEFORE = Before(
    tools=("insulated spanners and sockets", "multimeter rated for sixty volts or more", "four wheel chocks"),
    conditions=("The bay is dry, and the charger is not connected.",),
)


def every_state() -> dict[str, tuple[State_, dict[str, object]]]:
    """name -> (how to come to it, how the job begins)."""
    begun = replace(tug(), before=BEFORE)
    demo = read(PICTURES / "wren-48-drive-controller.yaml")
    return {
        **{name: (reach, {}) for name, reach in STATES.items()},
        **{name: (reach, {"learns": True}) for name, reach in LEARNERS_STATES.items()},
        **{name: (reach, {"procedure": begun}) for name, reach in FIRST_STATES.items()},
        **{name: (reach, {"procedure": demo}) for name, reach in DEMO_STATES.items()},
    }


def take_pictures(folder: Path, only: list[str]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    with chromium() as browser:
        for name, (reach, how) in every_state().items():
            if only and name not in only:
                continue
            shown = Shown(browser, **how)  # type: ignore[arg-type]
            shown.screen.publish({"mic_db": -24.0})
            reach(shown)
            shown.caught_up()
            for theme in THEMES:
                shown.page.evaluate("name => theme(name)", theme)
                for width, height in SIZES:
                    shown.page.set_viewport_size({"width": width, "height": height})
                    shown.page.wait_for_timeout(350)
                    shown.page.screenshot(path=str(folder / f"{name}-{theme}-{width}.png"))
            shown.close()


if __name__ == "__main__":
    take_pictures(Path(sys.argv[1]), sys.argv[2:])
