"""A performance: chart, style and settings become bars of notes."""
