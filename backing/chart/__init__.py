"""The chord chart: its model, its text, and the sequence through it."""
