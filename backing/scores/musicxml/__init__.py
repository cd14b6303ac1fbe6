"""Scores in MusicXML, read and written."""

from backing.scores.musicxml.read import read_musicxml

__all__ = ["read_musicxml"]
