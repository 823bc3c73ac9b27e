"""The cutaway film of a run, or of several side by side."""
