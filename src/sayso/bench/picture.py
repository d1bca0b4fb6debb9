"""Pictures of the bench's figures: reply times by kind of question, and what is accepted in noise."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sayso.bench.measuring import KINDS
from sayso.extras import how_to_add

BLUE, ORANGE, GREY = "#1f4e79", "#b35900", "#777777"


class PictureError(Exception):
    """matplotlib is not installed; the message says how to install it."""


def draw_all(figures: Mapping[str, Any], folder: Path) -> None:
    """Draws what `figures` (the bench's JSON) holds: reply-times.svg, noise.svg. Raises PictureError."""
    folder.mkdir(parents=True, exist_ok=True)
    if "replies" in figures:
        draw_replies(figures["replies"], folder / "reply-times.svg")
    if "noise" in figures:
        draw_noise(figures["noise"], folder / "noise.svg")


def draw_replies(times: Mapping[str, Any], path: Path) -> None:
    """One row of dots for each kind of question; a bar where the silence ends that closes the answer."""
    pyplot = _pyplot()
    figure, axes = pyplot.subplots(figsize=(8, 3.6), layout="constrained")
    for row, kind in enumerate(reversed(KINDS)):
        values = [value * 1000 for value in times["replies"].get(kind.name, [])]
        axes.plot(values, [row] * len(values), "o", color=BLUE, alpha=0.55)
        axes.plot([kind.endpoint_s * 1000] * 2, [row - 0.3, row + 0.3], color=ORANGE, linewidth=2)
    axes.set_yticks(range(len(KINDS)), [kind.name for kind in reversed(KINDS)])
    axes.set_xlim(left=0)
    axes.set_xlabel(
        "ms from the end of speech to the first sound of the reply (bar: the silence that ends it)"
    )
    axes.set_title(f"{times['machine']}\n{times['speech']}", fontsize=8)
    axes.grid(axis="x", alpha=0.3)
    _save(figure, path)


def draw_noise(points: list[Mapping[str, Any]], path: Path) -> None:
    """Against speech over noise: of the accepted answers the right ones, read-backs, extra turns, keys."""
    pyplot = _pyplot()
    figure, (left, right) = pyplot.subplots(1, 2, figsize=(8, 3.4), layout="constrained")
    names = ["quiet" if p["snr_db"] is None else f"{p['snr_db']:g} dB" for p in points]
    at = range(len(points))
    accepted = [max(1, p["accepted_right"] + p["accepted_wrong"]) for p in points]
    asked = [max(1, p["asked"]) for p in points]
    by_voice = [count - p["by_keys"] for count, p in zip(asked, points, strict=True)]
    shares = (
        ("accepted answers that are right", [p["accepted_right"] for p in points], accepted, BLUE),
        ("answers taken by voice, not by keys", by_voice, asked, ORANGE),
    )
    for name, counts, of, colour in shares:
        left.plot(at, [100 * c / n for c, n in zip(counts, of, strict=True)], "o-", color=colour, label=name)
    left.set_ylim(0, 105)
    left.set_ylabel("%")
    turns = (
        ("read-backs an answer", [p["read_backs"] / n for p, n in zip(points, accepted, strict=True)], GREY),
        ("extra turns an answer", [p["extra_turns_per_answer"] for p in points], ORANGE),
    )
    for name, values, colour in turns:
        right.plot(at, values, "o-", color=colour, label=name)
    right.set_ylim(bottom=0)
    for axes in (left, right):
        axes.set_xticks(at, names)
        axes.set_xlabel("speech over workshop noise")
        axes.grid(alpha=0.3)
        axes.legend(fontsize=8)
    _save(figure, path)


def _pyplot() -> Any:
    try:
        import matplotlib
    except ImportError as missing:
        raise PictureError(f"the picture needs matplotlib: {how_to_add('matplotlib')}") from missing
    matplotlib.use("Agg")
    from matplotlib import pyplot

    return pyplot


def _save(figure: Any, path: Path) -> None:
    figure.savefig(path, metadata={"Date": None} if path.suffix == ".svg" else None)
    _pyplot().close(figure)
