"""The papers of a check: figure and trial sheet."""
