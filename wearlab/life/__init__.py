"""A curve and a criterion -> a tool life, with its bracket and its status."""
