"""How well a control loop holds what it is to hold, in figures: `figures` from a course, `loop` from a project."""
