"""Sheets to read from: a chart laid out as marks on pages, and the painters of the marks."""
