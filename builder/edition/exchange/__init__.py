"""A score in the formats that other programs read: MEI, MusicXML, MIDI, braille music."""
