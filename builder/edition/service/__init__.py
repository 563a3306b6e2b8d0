"""Services in which choir and organ take verses in turn: their order and their plan."""
