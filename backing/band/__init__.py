"""The band: what bass, chop and drums play, bar by bar."""
