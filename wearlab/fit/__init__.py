"""Tool-life equations: the law, the fit, and what may be said of it. Draws nothing and needs no drawing library."""
