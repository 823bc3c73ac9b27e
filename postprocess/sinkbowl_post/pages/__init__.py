"""What the command line prints, and how it asks."""
