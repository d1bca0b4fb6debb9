"""Load time and memory of one model, measured in a process of its own.

Run as `python -m sayso.hearing.footprint [directory]`.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Footprint:
    """Seconds to load the model (without Python's start) and peak memory of that process in megabytes."""

    load_s: float
    peak_mb: float


def measure_footprint(model: str) -> Footprint | None:
    """None when the model cannot be loaded."""
    done = subprocess.run(
        [sys.executable, "-m", "sayso.hearing.footprint", model], capture_output=True, text=True, check=False
    )
    if done.returncode:
        return None
    data = json.loads(done.stdout.splitlines()[-1])
    return Footprint(data["load_s"], data["peak_mb"])


def _main() -> None:
    import vosk  # noqa: F401  (importing it is Python's start, not the model's)

    from sayso.hearing.recogniser import Recogniser
    from sayso.hearing.speech_model import load_model

    begin = time.perf_counter()
    model = load_model(sys.argv[1] if len(sys.argv) > 1 and sys.argv[1] else None)
    took = time.perf_counter() - begin
    if model.run_time_grammar:
        recogniser = Recogniser(model)
        recogniser.listen([w for w in ("yes", "no", "stop") if model.knows(w)])
        recogniser.accept(bytes(32_000))
        recogniser.finish()
    print(json.dumps({"load_s": round(took, 4), "peak_mb": round(_peak_mb(), 1)}))


def _peak_mb() -> float:
    """Peak resident memory. On Linux from /proc: ru_maxrss there starts at the parent's size after a fork."""
    status = Path("/proc/self/status")
    if status.is_file():
        for line in status.read_text(encoding="ascii", errors="replace").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) / 1024
    try:
        import resource
    except ImportError:  # Windows
        return float("nan")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / 2**20 if sys.platform == "darwin" else peak / 1024


if __name__ == "__main__":
    _main()
