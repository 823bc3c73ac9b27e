"""The cutaway film of a run."""
