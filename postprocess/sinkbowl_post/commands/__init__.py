"""The commands of the console script, one per file: parse, call, print."""
