"""Where a clutch would be least out of range, by what each place really measured. Pure."""
