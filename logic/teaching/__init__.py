"""Teaching: rungs in words, reasons of values, exercises and their grading.

In reading order: `rung_words` and `line_words` (any line of a file in words, made from the tree),
`recording` and `why` (the chain from a value back to the inputs that caused it), `causes` (which
of them matter, tried by changing each), then the exercises.
"""
