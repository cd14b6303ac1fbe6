"""Theory without input or output: note names, chords, keys, numbers of the key."""
