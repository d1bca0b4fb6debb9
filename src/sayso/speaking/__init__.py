"""The pyttsx3 voice, rendered ahead, and a player that can stop at once.
Does not decide what is said."""
