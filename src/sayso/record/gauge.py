"""A value within its limits as a small inline SVG: a scale, the band that is allowed, the value.

In or out shows by shape (a filled drop or a cross) and by place, never by colour alone.
"""

from __future__ import annotations

from markupsafe import Markup, escape

from sayso.record.story import Given
from sayso.record.wording import limits_text, number, value_text

_WIDTH, _HEIGHT = 160, 30
_LEFT, _RIGHT = 8.0, 152.0
_Y = 14.0


def gauge(given: Given) -> Markup:
    """The picture, or nothing when the value is no number or has no limits."""
    if isinstance(given.value, bool) or not isinstance(given.value, int | float):
        return Markup("")
    if given.low is None and given.high is None:
        return Markup("")
    value = float(given.value)
    start, end = _scale(given, value)

    def x(at: float) -> float:
        share = (at - start) / (end - start)
        return round(_LEFT + (_RIGHT - _LEFT) * min(1.0, max(0.0, share)), 1)

    low = x(given.low) if given.low is not None else _LEFT
    high = x(given.high) if given.high is not None else _RIGHT
    parts = [
        f'<line class="g-scale" x1="{_LEFT}" x2="{_RIGHT}" y1="{_Y}" y2="{_Y}"/>',
        f'<rect class="g-band" x="{low}" y="{_Y - 5}" width="{round(max(1.0, high - low), 1)}" height="10"/>',
    ]
    for limit, at in ((given.low, low), (given.high, high)):
        if limit is not None:
            anchor = "middle" if _LEFT + 12 < at < _RIGHT - 12 else ("start" if at <= _LEFT + 12 else "end")
            parts.append(f'<line class="g-limit" x1="{at}" x2="{at}" y1="{_Y - 7}" y2="{_Y + 7}"/>')
            parts.append(f'<text x="{at}" y="{_HEIGHT - 1}" text-anchor="{anchor}">{number(limit)}</text>')
    if given.target is not None:
        at = x(given.target)
        parts.append(f'<line class="g-target" x1="{at}" x2="{at}" y1="{_Y - 9}" y2="{_Y + 5}"/>')
    at = x(value)
    if given.within:
        parts.append(f'<path class="g-in" d="M{at} {_Y}l-4.5-8a5 5 0 1 1 9 0z" transform="translate(0 1)"/>')
    else:
        parts.append(f'<path class="g-out" d="M{at - 5} {_Y - 5}l10 10m0-10l-10 10"/>')
    words = f"{value_text(given)}, {'within' if given.within else 'outside'} {limits_text(given)}"
    return Markup(
        f'<svg class="gauge" viewBox="0 0 {_WIDTH} {_HEIGHT}" width="{_WIDTH}" height="{_HEIGHT}" '
        f'role="img" aria-label="{escape(words)}">{"".join(parts)}</svg>'
    )


def _scale(given: Given, value: float) -> tuple[float, float]:
    """The ends of the scale: the band with half as much again on both sides, and the value on it."""
    if given.low is not None and given.high is not None:
        span = given.high - given.low or abs(given.high) or 1.0
        start, end = given.low - span / 2, given.high + span / 2
    else:
        limit = given.low if given.low is not None else given.high
        assert limit is not None
        span = max(abs(limit - value), abs(limit) / 2, 1e-9)
        start, end = limit - 1.3 * span, limit + 1.3 * span
    # A value far off is set at the edge of the scale, so that the band stays readable.
    margin = (end - start) / 2
    return max(min(start, value), start - margin), min(max(end, value), end + margin)
