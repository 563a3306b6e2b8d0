"""The command `verset-builder`: the same calls for people without a site at hand."""

from builder.cli.main import main

__all__ = ["main"]
