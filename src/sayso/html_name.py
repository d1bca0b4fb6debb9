"""The name of a file that will hold HTML: a page named report.pdf opens in no reader of PDF."""

from __future__ import annotations

from pathlib import Path


def wrong_with_html_name(path: Path) -> str:
    """What is wrong with the name and what to write instead; '' when nothing is."""
    if path.suffix.lower() in ("", ".html", ".htm"):
        return ""
    instead = path.with_suffix(".html").name
    return f"{path}: one HTML file is written; name it {instead} (a browser prints it, as PDF too)"
