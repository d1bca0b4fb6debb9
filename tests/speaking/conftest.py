from tests.virtual_audio import audio_here, virtual_audio

__all__ = ["audio_here", "virtual_audio"]
