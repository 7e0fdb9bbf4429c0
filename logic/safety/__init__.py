"""Safety reviews that are computed from program, circuits and wiring.

In reading order: `switching` (circuits and relays run by themselves), `stoppers` (what makes
the program let go), `layers` (who guards a hazard), `cuts` (what defeats a layer),
`independence` (what layers share, in a table to sign).
"""
