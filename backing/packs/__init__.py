"""Practice packs: sheets, recordings and MIDI files of a tune in a folder, for a student."""
