"""Pure statistics of wear on numpy arrays: no pandas, no files, no command line."""
