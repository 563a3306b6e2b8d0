"""How large a source may be, so that nothing that is sent in takes time or memory without end.

A verset has ten to sixty bars; what is refused here is ten times as long and is no verset.
"""

MOST_BYTES = 200_000
"""Of a source in Markdown."""
MOST_FRONT = 64_000
"""Characters of a page's front matter."""
MOST_VALUES = 4_000
"""Values in the front matter: texts, numbers, lists, maps."""
DEEPEST = 12
"""Lists and maps inside one another."""
MOST_BARS = 300
MOST_NOTES = 4_000
"""Notes and rests of the given line and of all pinned voices together."""
MOST_SYMBOLS = 8_000
"""Notes, rests, stacks of figures and bar lines of all blocks, right or wrong."""
LARGEST = 8_000_000
"""Bytes of a MusicXML or MEI file, unpacked: a verset has a hundred thousand."""
MOST_ELEMENTS = 200_000
"""Elements of such a file."""
MOST_SCORE_NOTES = 12_000
"""Notes of a score that is only checked."""
