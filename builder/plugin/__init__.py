"""The adapter to the site generator: its events call the rooms above. Holds no music logic."""
