"""The whole edition as one archive, and what is new in it."""
