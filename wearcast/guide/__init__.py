"""The guide for users: Markdown pages shipped with the program, shown by `wearcast guide`."""
