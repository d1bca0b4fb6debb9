"""The caution panel's colours are the safety colours of ANSI Z535.1, and can be read on.

Munsell notations of ANSI Z535.1: red 7.5R 4.0/14, orange 5.0YR 6.0/15, yellow 5.0Y 8.0/12,
blue 2.5PB 3.5/10 (from memory; the standard's text was not read). Conversion to sRGB and the colour
difference CIEDE2000 by the `colour-science` library; contrast by WCAG 2.2's formula.
"""

from __future__ import annotations

import re
import warnings
from pathlib import Path

import numpy as np
import pytest

import sayso.screen

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

CSS = (Path(sayso.screen.__file__).parent / "static" / "page.css").read_text()
MUNSELL = {
    "danger": "7.5R 4.0/14.0",
    "warning": "5.0YR 6.0/15.0",
    "caution": "5.0Y 8.0/12.0",
    "notice": "2.5PB 3.5/10.0",
}


def css_colour(name: str, theme: int = 0) -> np.ndarray:
    """The `theme`-th definition of --name in the style sheet, as sRGB 0..1."""
    found = re.findall(rf"--{name}: #([0-9a-f]{{3,6}})\b", CSS)[theme]
    digits = found if len(found) == 6 else "".join(2 * d for d in found)
    return np.array([int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)])


def lab(rgb: np.ndarray) -> np.ndarray:
    return np.asarray(colour.XYZ_to_Lab(colour.sRGB_to_XYZ(rgb)))


def contrast(one: np.ndarray, other: np.ndarray) -> float:
    """WCAG 2.2 contrast ratio of two sRGB colours."""

    def luminance(rgb: np.ndarray) -> float:
        linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
        return float(linear @ [0.2126, 0.7152, 0.0722])

    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("level", MUNSELL)
def test_each_signal_colour_is_the_standards(level: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        xyz = colour.xyY_to_XYZ(colour.munsell_colour_to_xyY(MUNSELL[level]))
    illuminant_c = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["C"]
    standard = np.clip(colour.XYZ_to_sRGB(xyz, illuminant_c), 0, 1)
    assert colour.delta_E(lab(css_colour(level)), lab(standard), method="CIE 2000") < 2.0


@pytest.mark.parametrize("level", MUNSELL)
def test_the_signal_word_can_be_read_on_its_colour(level: str) -> None:
    assert contrast(css_colour(level), css_colour(f"{level}-ink")) >= 4.5


@pytest.mark.parametrize("theme", [0, 1], ids=["dark", "light"])
@pytest.mark.parametrize("ink", ["ink", "soft", "lead", "alarm"])
def test_every_ink_can_be_read_on_both_grounds(theme: int, ink: str) -> None:
    for ground in ("ground", "raised"):
        assert contrast(css_colour(ink, theme), css_colour(ground, theme)) >= 4.5
