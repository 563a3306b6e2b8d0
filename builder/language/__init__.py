"""The languages that a course speaks: all that is said to a reader, a file for each language (`texts/`) and
one way to say it (`texts.py`); the letters that print has glyphs for, and those that braille has signs
for."""
