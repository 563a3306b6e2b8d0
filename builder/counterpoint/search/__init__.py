"""The setting of a verset: every lawful voicing, what it costs, the lattice of them and the best paths
through it, or why there is none."""
