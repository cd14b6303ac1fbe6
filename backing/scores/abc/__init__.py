"""Reads and writes ABC, standard v2.1 (abcnotation.com, 2011)."""
