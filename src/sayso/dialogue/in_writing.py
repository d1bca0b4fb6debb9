"""Hints for whoever types: what is said of speaking and of keys, in words for a keyboard."""

from __future__ import annotations

from typing import Final

from sayso.dialogue.state import State

#: As it is spoken -> as it is told to whoever typed last. Longer ones stand before those that end like them.
_TYPED: Final = {
    "Say the serial letter by letter, or by the alphabet: alfa, bravo, charlie; digits one by one.": (
        "Type the serial as it is marked."
    ),
    "Spell it, one letter or digit at a time, or use the keys.": (
        "Type its letters and digits as they are marked."
    ),
    "Say the hour, then the minutes, such as fourteen thirty, or use the keys.": (
        "Type the hour and the minutes, such as 14:30."
    ),
    "Say only the number, or use the keys.": "Type only the number, in figures.",
    "Say it digit by digit, then the unit, or use the keys.": "Type it in figures, then the unit.",
    "Say it digit by digit, or use the keys.": "Type it in figures.",
    "Use the keys if I do not hear you. I keep listening.": "Type help to see what can be answered.",
    "Speak your note. Say end note when it is done.": "Type your note in one line.",
    "Speak the note, then say end note.": "Type the note in one line.",
    "I am listening for the note.": "Type the note in one line.",
    "Say end note to close the note.": "Type the note in one line.",
    "Speak your note.": "Type the note in one line.",
    "The code, one digit at a time, or no. Say hold if nobody is here.": (
        "Type the code, or no; hold if nobody is here."
    ),
}


def in_writing(state: State, text: str) -> str:
    """`text` for the way in which the last words came: as it is, or for a keyboard."""
    if state.at_keyboard or state.heard.written:
        for spoken, typed in _TYPED.items():
            text = text.replace(spoken, typed)
    return text
