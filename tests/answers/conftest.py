"""Examples are judged by what they show, never by how long a busy machine takes over them."""

from hypothesis import settings

settings.register_profile("no-deadline", deadline=None)
settings.load_profile("no-deadline")
