"""Reads and writes scores in MusicXML."""

from backing.scores.musicxml.read import read_musicxml
from backing.scores.musicxml.write import write_musicxml, write_mxl

__all__ = ["read_musicxml", "write_musicxml", "write_mxl"]
