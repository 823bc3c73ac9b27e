"""sinkbowl_post."""
