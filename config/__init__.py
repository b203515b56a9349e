"""What the keeper states: settings, the site, species profiles with their sources."""
