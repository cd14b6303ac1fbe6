"""Other people's notation: tunes with chords and a melody, in and out."""
