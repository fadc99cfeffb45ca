"""The record book: years of readings kept as they came, every correction with its reason, nothing lost."""
