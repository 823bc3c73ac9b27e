"""Tables of trials and traces from the tub."""
