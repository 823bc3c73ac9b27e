"""The commands of the console script, one a file: parse, call, print."""
