"""Any score held against the rulebook: findings with bar, beat, voices and words. Knows nothing of the
search."""
