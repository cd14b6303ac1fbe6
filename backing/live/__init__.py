"""Live playing: the band follows the player's commands."""
