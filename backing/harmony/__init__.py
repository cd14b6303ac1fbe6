"""Music theory: note names, chords, keys, and chords as numbers of a key."""
