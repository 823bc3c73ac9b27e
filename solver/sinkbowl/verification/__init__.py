"""The verification suite: the solver against closed forms and published values."""
