"""The command line: one small file a command; each is one call into the package, then print."""
