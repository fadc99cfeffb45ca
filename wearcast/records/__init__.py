"""What was measured: the record set as data, one reader a format, faults with their cell."""
