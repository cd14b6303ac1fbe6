"""The chord chart: its model, its text, and the road through it."""
