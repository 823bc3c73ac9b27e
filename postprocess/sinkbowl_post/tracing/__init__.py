"""From a clip of a sinking bowl to a trace of its depth."""
