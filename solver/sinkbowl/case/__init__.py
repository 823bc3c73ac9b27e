"""A case file, read, checked and frozen."""
