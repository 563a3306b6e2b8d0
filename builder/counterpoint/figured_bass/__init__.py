"""From figures to sonorities: the given line cut into segments, each with the tones that may and must sound
above it. Knows no rule of counterpoint."""
