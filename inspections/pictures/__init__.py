"""The pictures of the fleet and its programme: one description of each, drawn on pages and paper, with its table."""
