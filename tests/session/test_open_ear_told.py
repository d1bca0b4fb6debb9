"""What --open-ear can do is told before the job begins; with a headset there is nothing to tell."""

from __future__ import annotations

import pytest

from sayso.session.devices import Devices
from sayso.session.job_runs import tell_of_open_ear


@pytest.mark.parametrize(
    ("devices", "told"),
    [
        (Devices(open_ear=True), True),
        (Devices(open_ear=True, headset=True), False),
        (Devices(), False),
    ],
)
def test_that_its_own_voice_may_be_taken_is_told(
    devices: Devices, told: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    tell_of_open_ear(devices)
    said = capsys.readouterr().err
    assert ("only stop, hold and repeat count" in said) is told
    assert ("may take my own voice for one of them" in said) is told
