"""The distribution of reply times, one row of dots for each kind of question."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sayso.bench.measuring import KINDS, Times


class PictureError(Exception):
    """matplotlib is not installed; the message says how to install it."""


def draw(times: Times, path: Path) -> None:
    """Writes the picture to `path`; its ending chooses the format. Raises PictureError."""
    try:
        import matplotlib
    except ImportError as missing:
        raise PictureError("the picture needs matplotlib: pip install 'sayso[picture]'") from missing
    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure: Any
    axes: Any
    figure, axes = pyplot.subplots(figsize=(8, 3.6), layout="constrained")
    for row, kind in enumerate(reversed(KINDS)):
        values = [value * 1000 for value in times.replies.get(kind.name, [])]
        axes.plot(values, [row] * len(values), "o", color="#1f4e79", alpha=0.55)
        axes.plot([kind.endpoint_s * 1000] * 2, [row - 0.3, row + 0.3], color="#b35900", linewidth=2)
    axes.set_yticks(range(len(KINDS)), [kind.name for kind in reversed(KINDS)])
    axes.set_xlim(left=0)
    axes.set_xlabel(
        "ms from the end of speech to the first sound of the reply (bar: the silence that ends it)"
    )
    axes.set_title(f"{times.machine}\n{times.speech}", fontsize=8)
    axes.grid(axis="x", alpha=0.3)
    figure.savefig(path, metadata={"Date": None} if path.suffix == ".svg" else None)
    pyplot.close(figure)
