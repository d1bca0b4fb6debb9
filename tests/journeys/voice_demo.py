"""A job done by voice over a virtual microphone, to be watched: python -m tests.journeys.voice_demo

Needs no sound card: a private PulseAudio carries both voices. Prints what is said on both sides while it
is said, and writes the job's report. `--listen FILE.wav` keeps what the loudspeaker played.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from sayso.bench.private_audio import PrivateAudio, PrivateAudioError
from sayso.bench.technician import Reply, Technician
from sayso.record.report import write_report
from sayso.record.store import open_store
from tests.journeys.rooms import technician_at

JOB = Path(__file__).with_name("harness-swap.yaml")

SCRIPT = (
    Reply("understood to go on", "understood", times=4),
    Reply("isolate the pack|say done", "done", times=4),
    Reply(r"three volts.*yes\?", "yes", times=3),
    Reply("volt", "three volts", times=4),
    Reply("pins of the signal plug", "twelve"),
    Reply(r"twelve.*yes\?", "no eight"),
    Reply(r"eight.*yes\?", "yes", times=3),
    Reply("pins", "eight", times=4),
    Reply("fit the short harness", "how far am i"),
    Reply("short harness", "done", times=4),
    Reply("serial number", "hotel kilo one two three four", times=4),
    Reply(r"hotel kilo, one two, three four.*yes\?", "yes", times=3),
    Reply(r"nine newton metres.*yes\?", "yes", times=3),
    Reply("clamp|wrench read", "nine newton metres", times=4),
    Reply("lights", "yes", times=3),
    Reply("tools away", "done", times=3),
    Reply(r"(done|understood)\. yes\?", "yes", times=8),
    Reply(r"yes\?|is it what you read", "no", times=8),
    Reply(r"\byes or no\b", "yes", times=4),
)


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--report", type=Path, default=Path("voice-demo.html"))
    options.add_argument("--listen", type=Path, help="keep what the loudspeaker played in this WAV file")
    chosen = options.parse_args()
    try:
        audio = PrivateAudio()
    except PrivateAudioError as missing:
        print(missing, file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory() as name, audio:
        audio.add_room_tone()
        store = Path(name) / "jobs.sqlite"
        recorder = _record(audio, chosen.listen) if chosen.listen else None
        with technician_at(
            audio, ["run", str(JOB), "--store", str(store)], Path(name) / "voice"
        ) as technician:
            threading.Thread(target=_show, args=(technician,), daemon=True).start()
            technician.work(SCRIPT, timeout_s=240)
            code = technician.program.wait(20)
            time.sleep(0.3)
        if recorder is not None:
            recorder.terminate()
            recorder.wait()
        with open_store(store) as record:
            (row,) = record.jobs()
            print(f"\nreport: {write_report(record, row.job, chosen.report)}")
    return code


def _record(audio: PrivateAudio, file: Path) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        ["parec", "-d", "speaker.monitor", "--file-format=wav", str(file)], env=audio.environment
    )


def _show(technician: Technician) -> None:
    lines = turns = 0
    while technician.program.running:
        for line in technician.program.lines[lines:]:
            print(f"{line.who:>10}: {line.text}", flush=True)
            lines += 1
        for turn in technician.turns[turns:]:
            print(f"technician: {turn.said}", flush=True)
            turns += 1
        time.sleep(0.05)


if __name__ == "__main__":
    sys.exit(main())
