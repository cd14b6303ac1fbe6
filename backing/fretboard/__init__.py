"""Which shapes of a chord a hand can play on a fretted instrument, and the way through them."""
