"""Many runs of one case: planned, computed side by side, kept in one folder."""
