"""Score to MEI to SVG through verovio, with the score's ids on the notes. Knows nothing of mkdocs."""
