"""Offline pages from a forecast: a view of plain values, figures, templates."""
