"""The page on the music stand: a server on this computer, and the page it serves."""
