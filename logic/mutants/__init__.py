"""Mutants: the files with one mistake in them of the kind that people make, and who objects to each.

In reading order: `mutant` and `generate` (what is changed), `attacks` (the stories), `judge` (one mutant),
`confirm` (kills in the reference engine), `difference` and `suggest` (survivors), `hunt` (all of it), `result`.
"""
