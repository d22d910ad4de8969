"""Files -> findings and a Trial: the column dictionary, reading, checking."""
