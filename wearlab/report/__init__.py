"""A report is a record first (sections, tables, figures, notes with sources), then HTML or JSON of the same record."""
