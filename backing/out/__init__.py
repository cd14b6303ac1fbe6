"""Outputs of a performance: MIDI files, recordings, sheets, MIDI ports."""
