"""Reading a logger's table (CSV): pure, but for `file`. What is found out about a table is always told."""
