"""Reports of a run or a sweep: one page for the browser."""
