"""What is chosen on the command line, as people write it."""

from __future__ import annotations

import pytest

from sayso.session.errors import UserError
from sayso.session.job_options import job_options


def wrench(written: str) -> str:
    return job_options("", "", "", "normal", written, None, False, "en", None).wrench


# N.m is the SI's way (SI Brochure, 9th edition, 5.2: a half-high dot or a space between units); the rest
# is what torque wrenches are marked with: common practice, no source.
@pytest.mark.parametrize(
    ("written", "scale"),
    [
        ("N.m", "N.m"),
        ("Nm", "N.m"),
        ("N·m", "N.m"),
        ("N m", "N.m"),
        ("ft-lb", "lbf.ft"),
        ("lbf.ft", "lbf.ft"),
        ("in-lb", "lbf.in"),
        ("lb in", "lbf.in"),
    ],
)
def test_the_wrench_is_named_as_its_scale_is_marked(written: str, scale: str) -> None:
    assert wrench(written) == scale


@pytest.mark.parametrize("written", ["kg", "kN.m", "rhubarb", ""])
def test_what_no_wrench_is_marked_in_is_told(written: str) -> None:
    with pytest.raises(UserError, match=r"write N\.m, lbf\.ft or lbf\.in"):
        wrench(written)


@pytest.mark.parametrize("name", ["Ann\nLee", "Ann\x1b[31m Lee", "Ann\tLee", "Ann\x00Lee"])
def test_a_name_with_a_control_character_is_refused_and_told_in_plain_letters(name: str) -> None:
    """It would stand in every list and on every terminal, and break a line of both."""
    with pytest.raises(UserError, match=r"--person 'Ann.* Lee': there is a line break") as refused:
        job_options("", name, "", "normal", "N.m", None, False, "en", None)
    assert str(refused.value).isprintable()


def test_a_name_keeps_every_letter() -> None:
    options = job_options("Wren 48 no. 17", " Zoë  Ñandú 漢 ", "", "normal", "N.m", None, False, "en", None)
    assert (options.person, options.machine) == ("Zoë Ñandú 漢", "Wren 48 no. 17")


def test_an_empty_parameter_is_refused_before_the_job_begins() -> None:
    """ "Park the Heron 80 in the ." In the file an empty value says that one must be given."""
    with pytest.raises(UserError, match="'bay' needs a value"):
        job_options("", "", "", "normal", "N.m", None, False, "en", ["bay= "])
    given = job_options("", "", "", "normal", "N.m", None, False, "en", ["bay=three"])
    assert given.parameters == {"bay": "three"}
