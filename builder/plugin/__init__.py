"""The adapter to the site generator: its events call the rooms above. Holds no music logic."""

from builder.plugin.plugin import VersetPlugin

__all__ = ["VersetPlugin"]
