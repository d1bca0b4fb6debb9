"""What a job by voice needs of this machine, open and ready before the job begins."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from sayso.hearing.errors import HearingError
from sayso.hearing.microphone import Microphone
from sayso.hearing.speech_model import SpeechModel
from sayso.procedure.model import Procedure
from sayso.session.devices import Devices
from sayso.session.ear import Ear
from sayso.session.errors import NoVoiceError
from sayso.session.mouth import Mouth
from sayso.session.one_voice import only_voice
from sayso.session.own_voice import OwnVoice
from sayso.session.taught_model import Witnesses, taught_model
from sayso.speaking.output_device import OutputError, find_output
from sayso.speaking.voice import VoiceError


@dataclass(frozen=True, slots=True)
class Equipment:
    mouth: Mouth
    ear: Ear
    model: SpeechModel


@contextlib.contextmanager
def equipment(devices: Devices, procedure: Procedure, witnesses: Witnesses = ()) -> Iterator[Equipment]:
    """Opens loudspeaker, voice, model and microphone for a job on `procedure`; closes them at the end.

    Raises NoVoiceError with one line saying what is missing, UserError when another sayso speaks here.
    """
    with only_voice(), contextlib.ExitStack() as opened:
        try:
            # Cheap questions first: a machine without sound is told so before half a second of loading.
            find_output(devices.speaker)
            with ThreadPoolExecutor(2) as pool:
                loading = pool.submit(taught_model, devices.model, procedure, witnesses)
                microphone = Microphone(devices.microphone)
                opened.callback(microphone.close)
                microphone.open()  # first: it measures the noise of the place while the rest is made ready
                mouth = Mouth(devices.speaker, devices.voice, devices.rate)
                opened.callback(mouth.close)
                mouth.open()
                voice = None if devices.headset else OwnVoice(mouth.rate, takes_out=devices.open_ear)
                model = loading.result()
            if voice is not None:
                mouth.played = voice.played
                opened.callback(voice.close)
            ear = Ear(
                model,
                microphone,
                headset=devices.headset,
                own_voice=voice,
            )
            opened.callback(ear.close)
            ear.open()
        except (HearingError, OutputError, VoiceError) as failure:
            raise NoVoiceError(str(failure)) from failure
        yield Equipment(mouth, ear, model)
