"""Groove styles: their model, their files, and where they are found."""
