"""The languages of an edition: its words in each, the letters that print has glyphs for, and those that
braille has signs for."""
