"""Coverage: which rows of a rung's conditions were ever seen, and what would show the others.

In reading order: `pairs` (unique-cause pairs), `decisions` (of rungs), `instrument` (latches in the program),
`requirement_marks`, `campaign` (who reaches what), `unreachable` (proofs), `measure` (all of it), `result`.
"""
