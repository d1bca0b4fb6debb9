"""How long `check` takes for a procedure of 2,000 steps with all kinds of question. Run by hand:

    python tests/benchmarks/check_two_thousand_steps.py [STEPS]

Prints processor time and wall time of five runs; the first one also reads the unit tables and compiles
every condition. The bar is one second.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from sayso.procedure import check


def text_of(steps: int) -> str:
    lines = [
        "procedure: big",
        "title: Big",
        "revision: 1",
        "defers_to: The maker's manual comes first.",
        "steps:",
    ]
    for i in range(steps):
        lines += [
            f"  - id: step-{i}",
            f"    say: Look at item {i} at the left side of the frame.",
            f"    section: Part {i // 50}",
            f"    why: Item {i} tells whether the frame is straight.",
        ]
        lines += [
            [f"    ask: {{torque: t_{i}, target: {5 + i % 40} N.m, within: 10 %}}"],
            [f"    ask: {{yes_no: y_{i}}}", f"    then: {{yes: next, no: step-{max(i - 1, 0)}}}"],
            [f"    ask: {{measure: m_{i}, unit: mm, at_least: 1, at_most: 5, read_back: true}}"],
            [f"    when: answers.m_{i - 1} > {i / 1000}"],
            [
                f"    ask: {{count: c_{i}, from: 1, to: 9}}",
                "    then: {3: next, otherwise: next}",
                f"    caution: {{level: caution, say: Mind the edge of item {i}.}}",
            ],
        ][i % 5]
    return "\n".join(lines) + "\n"


def main() -> None:
    steps = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "big.yaml"
        file.write_text(text_of(steps), encoding="utf-8")
        for run in range(5):
            wall, cpu = time.perf_counter(), time.process_time()
            found = check(file)
            print(
                f"run {run + 1}: {steps} steps, {time.process_time() - cpu:.2f} s of processor, "
                f"{time.perf_counter() - wall:.2f} s on the clock, {len(found)} problems"
            )


if __name__ == "__main__":
    main()
