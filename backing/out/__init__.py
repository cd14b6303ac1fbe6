"""Sinks: what a performance is turned into."""
