"""The commands, one file per subject. Each only reads its arguments, calls what does the work, and prints."""
