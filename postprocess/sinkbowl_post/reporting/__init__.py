"""One page for the browser that tells the story of one run, or of a sweep."""
