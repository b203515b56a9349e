"""What each standing condition is judged by, read from the journal and the machine."""
