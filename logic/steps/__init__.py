"""Folder `logic/steps` is the package `rungproof.logic.steps`: one intermediate form for everything.

In reading order:

    operators      the closed operator set, and what each operator means
    node           hash-consed expressions, folded only where no bit can change
    step           the Step: states, inputs, assignments; slices
    text           a Step as text and back
    symbol         tracing a part's Python into nodes
    scope, expressions, stages    what rungs are made of
    controller, plant, monitors   a scan, a tick, a requirement
    lowered        a whole Program, part by part
    run_plan       the phases of an instant for one shape of run: what engines generate code from
    closed_loop    everything as one Step: what provers read
    interpret      a Step run by its operators' plain meaning
"""
