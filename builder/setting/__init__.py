"""A verset taken through the house once: read, transposed, analysed, set in voices, diminished, notated and
reported. Knows neither pages nor print."""
