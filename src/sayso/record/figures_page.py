"""The figures as one self-contained HTML page."""

from __future__ import annotations

from collections.abc import Callable
from datetime import tzinfo
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined

from sayso.record import wording
from sayso.record.figures import Figures
from sayso.record.plots import share_bar, spread_plot, torque_plot
from sayso.record.report import write_whole


def render_page(figures: Figures, *, zone: tzinfo | None = None) -> str:
    """The HTML. What needs looking after comes first in each table."""
    environment = Environment(
        loader=PackageLoader("sayso.record"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    filters: dict[str, Callable[..., str]] = {
        "day": lambda ms: wording.day(ms, zone),
        "moment": lambda ms: wording.moment(ms, zone),
        "seconds": lambda s: wording.duration(round(s * 1000)),
        "number": wording.number,
        "unit": wording.unit_symbol,
    }
    environment.filters |= filters
    timed = [step for step in figures.steps if step.seconds is not None]
    longest = max((step.seconds.p90 for step in timed if step.seconds is not None), default=0.0)
    heard = sorted(figures.steps, key=lambda step: -step.again_share)
    return environment.get_template("figures.html.j2").render(
        figures=figures,
        steps=timed,
        longest=longest,
        badly_heard=[step for step in heard if step.again_share > 0][:12],
        most_again=heard[0].again_share if heard else 0.0,
        torques=sorted(
            figures.torques,
            key=lambda t: t.capability.cpk if t.capability and t.capability.cpk is not None else 1e9,
        ),
        most_deviating=max((v.jobs_deviating / v.jobs for v in figures.variants), default=0.0),
        procedures=sorted({step.procedure for step in figures.steps}),
        spread_plot=spread_plot,
        share_bar=share_bar,
        torque_plot=torque_plot,
    )


def write_page(figures: Figures, path: Path, *, zone: tzinfo | None = None) -> Path:
    """Write the page, whole or not at all. Raises RecordError when it cannot be written."""
    return write_whole(path, render_page(figures, zone=zone).encode("utf-8"))
