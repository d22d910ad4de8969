"""The one-page standard for the machine, as one printable HTML page; and the sentences of a decision."""
