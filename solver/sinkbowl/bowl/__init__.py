"""The bowl as two outlines of revolution."""
