"""Chord shapes that a hand can play on a fretted instrument, and fingering paths."""
