"""sinkbowl."""
