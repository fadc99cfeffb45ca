"""Readings the tool doubts: one file a family of slips. Nothing is rescaled, swapped or dropped in silence."""
