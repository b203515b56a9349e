"""The round through the boxes: what is found, what each box shows, what to look at first. Pure rules."""
