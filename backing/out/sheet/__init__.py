"""Sheets: a chart laid out as marks on pages, painted as PDF or SVG."""
