"""Results for other programs: fields, and the history as a table."""
