"""Score, tuning and registration to notes in seconds and hertz, rendered audio and the reader's play
data. Knows nothing of mkdocs."""
