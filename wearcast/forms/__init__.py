"""The form for the ship: what to read at an opening, written as a workbook that is read back."""
