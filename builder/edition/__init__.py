"""The files of an edition: PDF, MEI, MusicXML, MIDI, braille, audio, report. Knows nothing of mkdocs."""
