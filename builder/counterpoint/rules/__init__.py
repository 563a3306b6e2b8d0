"""The rulebook: what each rule says, when it is broken, and the same as tables and in words. Knows nothing of
the search, nor of how a score is reported on."""
