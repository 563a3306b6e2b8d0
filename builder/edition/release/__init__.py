"""The whole edition as one archive, with its checksums, and what is new in it."""
