"""Practice packs: what a student takes home of a tune, as files in a folder."""
