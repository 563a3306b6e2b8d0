"""Markdown and HTML of the course: overview, each step, the whole. Knows nothing of the event loop of
the site generator."""
