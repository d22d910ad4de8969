"""Values from outside: rows with source and how they are known, and a lookup. They annotate, never decide."""
