"""The command `verset-builder`: the same calls for people without a site at hand."""
