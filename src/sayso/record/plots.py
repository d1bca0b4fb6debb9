"""Small inline SVG plots for the figures page; each says in words what it shows."""

from __future__ import annotations

from markupsafe import Markup, escape

from sayso.record.figures import Spread, TorqueFigure
from sayso.record.wording import duration, number, unit_symbol

_WIDTH = 260.0


def spread_plot(spread: Spread | None, longest: float) -> Markup:
    """A line from the 10th to the 90th percentile, a box for the middle half, a bar at the median.

    `longest` is the length of the scale in seconds, the same for all rows so that they can be compared.
    """
    if spread is None or longest <= 0:
        return Markup("")

    def x(seconds: float) -> float:
        return round(4 + (_WIDTH - 8) * min(seconds, longest) / longest, 1)

    box = max(1.0, round(x(spread.p75) - x(spread.p25), 1))
    words = (
        f"median {_s(spread.p50)}, middle half {_s(spread.p25)} to {_s(spread.p75)}, "
        f"8 of 10 visits {_s(spread.p10)} to {_s(spread.p90)}"
    )
    return Markup(
        f'<svg class="plot" viewBox="0 0 {_WIDTH:g} 18" width="{_WIDTH:g}" height="18" role="img" '
        f'aria-label="{escape(words)}"><title>{escape(words)}</title>'
        f'<line class="s-range" x1="{x(spread.p10)}" x2="{x(spread.p90)}" y1="9" y2="9"/>'
        f'<rect class="s-half" x="{x(spread.p25)}" width="{box}" y="3.5" height="11"/>'
        f'<line class="s-median" x1="{x(spread.p50)}" x2="{x(spread.p50)}" y1="1.5" y2="16.5"/>'
        "</svg>"
    )


def _s(seconds: float) -> str:
    return duration(round(seconds * 1000))


def share_bar(share: float, most: float) -> Markup:
    """A bar of `share` on a scale that ends at `most`; decoration beside the number."""
    width = round(60 * min(1.0, share / most), 1) if most > 0 else 0
    return Markup(
        f'<svg class="plot" viewBox="0 0 62 12" width="62" height="12" aria-hidden="true">'
        f'<rect class="b-all" x="1" y="2" width="60" height="8"/><rect class="b-part" x="1" y="2" '
        f'width="{width}" height="8"/></svg>'
    )


def torque_plot(figure: TorqueFigure) -> Markup:
    """How often each reading came, over the band that is allowed, with the target."""
    width, height, foot = 330.0, 96.0, 78.0
    span = figure.end - figure.start

    def x(value: float) -> float:
        return round(6 + (width - 12) * (value - figure.start) / span, 1)

    top = max(figure.histogram) or 1
    step = (width - 12) / len(figure.histogram)
    parts = []
    if figure.low is not None and figure.high is not None:
        parts.append(
            f'<rect class="g-band" x="{x(figure.low)}" width="{round(x(figure.high) - x(figure.low), 1)}" '
            f'y="6" height="{foot - 6}"/>'
        )
    for place, count in enumerate(figure.histogram):
        if count:
            tall = max(1.5, (foot - 12) * count / top)
            middle = figure.start + span * (place + 0.5) / len(figure.histogram)
            inside = (figure.low is None or middle >= figure.low) and (
                figure.high is None or middle <= figure.high
            )
            parts.append(
                f'<rect class="{"h-in" if inside else "h-out"}" x="{6 + place * step + 0.6:.1f}" '
                f'y="{foot - tall:.1f}" width="{step - 1.2:.1f}" height="{tall:.1f}"/>'
            )
    parts.append(f'<line class="g-scale" x1="6" x2="{width - 6}" y1="{foot}" y2="{foot}"/>')
    for value, kind in ((figure.low, "g-limit"), (figure.target, "g-target"), (figure.high, "g-limit")):
        if value is not None:
            parts.append(f'<line class="{kind}" x1="{x(value)}" x2="{x(value)}" y1="3" y2="{foot + 4}"/>')
            parts.append(f'<text x="{x(value)}" y="{height - 3}" text-anchor="middle">{number(value)}</text>')
    found = figure.capability
    read = "no reading"
    if found is not None:
        read = f"{found.n} readings, mean {number(found.mean)} {unit_symbol(figure.unit)}"
    words = escape(f"{read}, {figure.outside} outside limits")
    return Markup(
        f'<svg class="plot histogram" viewBox="0 0 {width:g} {height:g}" role="img" aria-label="{words}">'
        f"<title>{words}</title>{''.join(parts)}</svg>"
    )
