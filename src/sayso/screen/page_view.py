"""From where the job stands (dialogue's View) to what the page draws: words, figures and shapes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

#: More beads than this would be thinner than the eye can part at 4 m; the path is then scaled down.
MOST_BEADS = 60

UNITS = {"N.m": "N·m", "lbf.ft": "lbf·ft", "lbf.in": "lbf·in"}


def page_view(view: Mapping[str, Any]) -> dict[str, Any]:
    """What page.js draws, as JSON values. `view` is the dict of a ShowStep effect."""
    return {
        "title": view["title"],
        "machine": view["machine"],
        "mode": view["condition"],
        "outcome": view["outcome"],
        "focus": focus_of(view),
        "step": _step(view),
        "before": view["before"],
        "caution": _caution(view),
        "heard": _heard(view["heard"]),
        "notice": "",  # what the shell had to say of the last key is over
        "timer": {"due_ms": view["timer_due_ms"], "name": ""} if view["timer_due_ms"] else None,
        "torque": _torque(view["torque"]),
        "picture": _picture(view),
        "path": _path(view),
        "answers": [{"name": a["name"].replace("_", " "), "text": a["said"]} for a in view["answers"]],
        "step_id": view["step"],
        "way": view["way"],
        "alarm": _alarm(view),
    }


def _heard(heard: Mapping[str, Any]) -> dict[str, Any]:
    """A key or typed words have no confidence: nobody listened."""
    confidence = None if heard["typed"] else heard["confidence"]
    return {"words": heard["words"], "confidence": confidence, "by_hand": heard["typed"]}


def _open_caution(view: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """The first caution still to be acknowledged; else the gravest of the step, which stays in sight."""
    waiting = [c for c in view["cautions"] if not c["acknowledged"]]
    order = ("danger", "warning", "caution", "notice")
    return next(iter(waiting), None) or min(
        view["cautions"], key=lambda c: order.index(c["level"]), default=None
    )


def _caution(view: Mapping[str, Any]) -> dict[str, str] | None:
    found = _open_caution(view)
    return {"level": found["level"], "text": found["text"]} if found else None


#: What is being waited for while a question, not the step, is what the eye must find.
_QUESTIONS = frozenset(
    (
        "confirm", "deviation", "settle", "keep_reason", "still_holds", "stop", "skip_reason", "note",
        "predict", "not_met_reason", "not_met_code", "not_met_confirm",
    )
)  # fmt: skip


def focus_of(view: Mapping[str, Any]) -> str:
    """What is shown largest: 'caution' until it is acknowledged (its step is not told yet, so it is not
    shown), 'question' for a read-back and the like, else 'step'."""
    if view["awaiting"] == "caution":
        return "caution"
    asked = view["awaiting"] in _QUESTIONS or (view["waited"] and view["awaiting"] == "answer")
    return "question" if asked and view["condition"] != "held" else "step"


def _step(view: Mapping[str, Any]) -> dict[str, Any] | None:
    if view["condition"] == "ended":
        outcome = {"complete": "Complete", "stopped": "Stopped"}.get(
            view["outcome"], f"Ended: {view['outcome']}"
        )
        # the summary as it is spoken, without the outcome that it ends with
        summary = re.sub(r"\s*The job (is|ends)[^.]*\.$", "", view["saying"])
        return {"id": "", "number": 0, "of": 0, "section": "", "text": outcome, "question": summary}
    text = view["text"]
    question = view["read_back"] or view["question"]
    if view["condition"] == "held":
        question = "" if view["device_lost"] else "Say: carry on"
    elif view["awaiting"] == "ready":
        text, question = "Have this to hand", "Say: ready"
    elif view["awaiting"] == "start" or not text:
        text, question = view["saying"] or view["title"], ""
    elif view["awaiting"] == "caution":
        text, question = "", "Say: understood"
    elif view["awaiting"] == "wait":
        question = "I will ask when the time is up."
    elif view["awaiting"] == "predict":
        text = "First a question. Or say: tell me"
    elif question.strip() in (text.strip(), ""):
        question = ""
    elif question.startswith(text):
        question = question[len(text) :].strip()
    if view["torque"] and view["awaiting"] == "answer" and view["condition"] != "held":
        question = re.split(r"(?<=[.!?]) ", question)[-1]  # target and limits stand beside in large figures
    return {
        "id": view["step"],
        "number": view["number"],
        "of": view["of"],
        "section": view["section"],
        "text": text,
        "question": question,
    }


def _figure(value: float) -> str:
    return f"{value:.4g}"


def _torque(torque: Mapping[str, Any] | None) -> dict[str, str] | None:
    if torque is None:
        return None
    unit = UNITS.get(torque["unit"], torque["unit"])
    return {
        "target": f"{_figure(torque['target'])} {unit}",
        "limits": f"{_figure(torque['low'])} to {_figure(torque['high'])}",
        "fasteners": f"{torque['fasteners']} fasteners" if torque["fasteners"] > 1 else "",
    }


def _picture(view: Mapping[str, Any]) -> dict[str, str] | None:
    if not view["picture"] or view["level"] != "full" or focus_of(view) != "step":
        return None
    return {"src": f"picture/{quote(view['picture'])}", "alt": f"Picture of the step: {view['step_title']}"}


def _path(view: Mapping[str, Any]) -> list[dict[str, str]]:
    done, remaining = view["done"], view["remaining"]
    whole = done + remaining
    if whole > MOST_BEADS:
        done = min(MOST_BEADS - 1, done * MOST_BEADS // whole)
        remaining = MOST_BEADS - done
    beads = [{"state": "done", "title": "step done"} for _ in range(done)]
    if view["condition"] != "ended" and remaining:
        beads.append({"state": "now", "title": f"now: {view['step_title'] or 'start'}"})
        remaining -= 1
    if view["certain"]:
        return beads + [{"state": "ahead", "title": "step ahead"} for _ in range(remaining)]
    # dotted: a branch may make the way shorter
    return beads + [{"state": "passed", "title": "step ahead, at the most"} for _ in range(remaining)]


def _alarm(view: Mapping[str, Any]) -> str:
    if view["device_lost"]:
        return f"The {view['device_lost']} is gone. Plug it in again, or use the keys."
    if len(view["to_settle"]) > 1:
        return "Still to be undone or kept: " + "; ".join(view["to_settle"])
    if view["out_of_limits"] and view["awaiting"] == "deviation":
        return f"Out of limits: {view['out_of_limits']}"
    if view["noisy"] and not view["problem"]:
        return "It is loud here: every answer is read back."
    return str(view["problem"])
