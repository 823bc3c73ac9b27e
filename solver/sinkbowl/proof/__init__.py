"""The ladder of proof: the solver against closed forms and published values, as people run it."""
