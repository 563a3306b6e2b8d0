"""From one text file per verset to a course site and a practical edition.

The rooms stand in the order in which a verset passes through them: `music`, `source`, `analysis`,
`counterpoint`, `diminution`, `engraving`, `sound`, `edition`, `pages`, `plugin`, `cli`. Imports point
one way: nothing imports from a room that comes later.
"""
