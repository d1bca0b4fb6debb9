"""Sets a fresh machine up and starts sayso: `python3 src/start.py demo` or `python3 src/start.py test`.

Standard library only, since nothing else is there yet. It installs the system parts (Debian and
Ubuntu by apt; elsewhere it says what to install), makes `.venv` beside the README, installs sayso
into it, and runs. Done steps are skipped, so running it again costs about a second.
"""

from __future__ import annotations

import hashlib
import os
import platform
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")

#: Debian packages and the file that shows each is there: the voice, the sound library, ALSA's way
#: to PulseAudio, the branch pictures.
TO_RUN = {
    "python3-venv": None,
    "espeak-ng": "espeak-ng",
    "libportaudio2": None,
    "libasound2-plugins": None,
    "libspeexdsp1": None,
    "graphviz": "dot",
}
#: what the tests use besides: a sound server with virtual devices, a second voice, a real database
#: server and a real browser.
TO_TEST = {
    "pulseaudio": "pulseaudio",
    "pulseaudio-utils": "pactl",
    "flite": "flite",
    "sox": "sox",
    "postgresql": None,
    "chromium": "chromium",
    "chromium-driver": "chromedriver",
    "fonts-dejavu-core": None,
}

ELSEWHERE = {
    "Darwin": "macOS: install the sound library and the branch pictures with\n"
    "       `brew install portaudio graphviz`. The voice is macOS's own.",
    "Windows": "Windows: nothing to install besides Python 3.11 or newer; the voice is Windows' own.\n"
    "         For branch pictures install Graphviz (winget install graphviz).",
    "Linux": "This Linux has no apt. Install espeak-ng, PortAudio, the ALSA plugin for PulseAudio and\n"
    "Graphviz with its own package tool, on Fedora:\n"
    "dnf install espeak-ng portaudio alsa-plugins-pulseaudio graphviz",
}


#: A worker for each core, no more than four; tests/conftest.py says what stays together.
SHARED_OUT = ("-n", "logical", "--maxprocesses", "4", "--dist", "loadfile", "--no-loadscope-reorder")


def missing_debian_packages(wanted: dict[str, str | None]) -> list[str]:
    missing = []
    for package, command in wanted.items():
        if command and shutil.which(command):
            continue
        shown = subprocess.run(
            ["dpkg-query", "-W", "-f=${Status}", package], capture_output=True, text=True, check=False
        )
        if "install ok installed" not in shown.stdout:
            missing.append(package)
    return missing


def install_system_parts(wanted: dict[str, str | None]) -> None:
    if not shutil.which("apt-get"):
        print(ELSEWHERE.get(platform.system(), ELSEWHERE["Linux"]), flush=True)
        return
    missing = missing_debian_packages(wanted)
    if not missing:
        return
    print("Installing from Debian/Ubuntu:", " ".join(missing), flush=True)
    become_root = [] if os.geteuid() == 0 else ["sudo"]
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    subprocess.run([*become_root, "apt-get", "update", "-qq"], check=False, env=quiet)
    done = subprocess.run(
        [*become_root, "apt-get", "install", "-y", "-qq", "--no-install-recommends", *missing],
        check=False,
        env=quiet,
        stdout=subprocess.DEVNULL,
    )
    if done.returncode:
        raise SystemExit(f"apt-get could not install {' '.join(missing)}; install them and start again.")


def install_sayso(extra: str) -> None:
    if not PYTHON.exists():
        subprocess.run([sys.executable, "-m", "venv", str(VENV)], check=True)
    wanted = hashlib.sha256((ROOT / "pyproject.toml").read_bytes() + extra.encode()).hexdigest()
    stamp = VENV / f"installed{extra.strip('[]')}.sha256"
    if stamp.exists() and stamp.read_text() == wanted:
        return
    print("Installing sayso into .venv (once; a minute or two)", flush=True)
    subprocess.run(
        [str(PYTHON), "-m", "pip", "install", "-q", "--disable-pip-version-check", "-e", f"{ROOT}{extra}"],
        check=True,
    )
    stamp.write_text(wanted)


def main(arguments: list[str]) -> int:
    if sys.version_info < (3, 11):  # noqa: UP036 - this file is what an older Python is given first
        raise SystemExit(f"sayso needs Python 3.11 or newer; this is {platform.python_version()}.")
    if not arguments or arguments[0] not in ("demo", "test"):
        print(__doc__)
        return 2
    if arguments[0] == "demo":
        install_system_parts(TO_RUN)
        install_sayso("")
        command = [str(PYTHON), "-m", "sayso.cli", "demo", *arguments[1:]]
    else:
        install_system_parts(TO_RUN | TO_TEST)
        install_sayso("[test]")
        command = [str(PYTHON), "-m", "pytest", *SHARED_OUT, *arguments[1:]]
    return subprocess.run(command, cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
