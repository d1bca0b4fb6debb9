"""sayso: a hands-free, offline step assistant for the workshop."""

__version__ = "0.1.0"
