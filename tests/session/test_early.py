"""What takes longest at the start is begun before anything that keeps it waiting is imported."""

from __future__ import annotations

import subprocess
import sys

#: Each takes a tenth of a second or more to import (python -X importtime).
HEAVY = ("numpy", "pint", "pydantic", "sqlalchemy", "scipy", "sayso.dialogue", "sayso.answers")


def loaded_after(code: str) -> set[str]:
    """The modules that a fresh Python has loaded after `code`."""
    told = f"import sys\n{code}\nprint(*(name for name in list(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


def test_engine_and_model_are_begun_before_anything_heavy_is_imported() -> None:
    """The moment they are begun, told by a program that stops there."""
    loaded = loaded_after(
        "import sayso.session.commands\n"
        "from sayso.session import early, taught_notes\n"
        "from sayso.speaking import engine_start\n"
        "begun = []\n"
        "engine_start.begin_engine = lambda: begun.append('engine')\n"
        "taught_notes.begin_to_load = lambda model: begun.append('model')\n"
        "early._wake_sound = lambda: None\n"
        "with early.begun_early(None):\n"
        "    assert begun == ['engine', 'model']\n"
    )
    assert not loaded & set(HEAVY)


def test_loading_the_model_imports_no_client_of_the_web() -> None:
    loaded = loaded_after(
        "from sayso.hearing.speech_model import load_model\nassert load_model().knows('yes')"
    )
    assert "vosk" in loaded
    assert not loaded & {"urllib3", "requests", "requests.sessions"}


def test_what_vosk_would_fetch_with_is_there_when_somebody_asks_for_it() -> None:
    loaded = loaded_after(
        "from sayso.hearing.speech_model import load_model\nload_model()\nimport vosk\n"
        "assert callable(vosk.requests.get)"
    )
    assert "requests.sessions" in loaded
