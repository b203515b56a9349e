"""Pure: conditions that are judged as they stand at a moment, and not with each reading."""
