"""One file a section: each turns an analysis into blocks."""
