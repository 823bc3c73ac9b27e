"""A hole or a ballast for a wanted time."""
