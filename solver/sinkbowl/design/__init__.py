"""What is asked before the water: does it sink, how long, which hole, how sure."""
