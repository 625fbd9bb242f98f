"""Template tags of the rooms."""
