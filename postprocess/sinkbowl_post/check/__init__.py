"""Figure and trial sheet of a check."""
