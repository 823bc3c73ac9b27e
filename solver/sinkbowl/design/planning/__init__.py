"""Which holes, how many trials and which clock tell the reduced models apart."""
