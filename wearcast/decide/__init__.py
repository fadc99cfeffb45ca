"""Decisions: what to open at which window, what to order and by when, which sister is out of line."""
