"""What gas circuits make possible, kept: computed in the background, shown on pages, counted over the fleet."""
