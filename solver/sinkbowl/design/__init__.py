"""Before the trial: does it sink, how long does it take, which hole, with what uncertainty."""
