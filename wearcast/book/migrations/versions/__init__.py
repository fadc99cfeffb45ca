"""One file a released schema."""
