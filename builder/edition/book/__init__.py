"""The book of an edition, and everything of it that is for printing."""
