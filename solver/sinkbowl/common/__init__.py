"""Common to all parts: errors, units, water, tables, printing of results."""
