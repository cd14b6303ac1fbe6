"""Playing live: the band follows the player."""
