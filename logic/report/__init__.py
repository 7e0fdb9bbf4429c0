"""Pages for people: what they all share, and the evidence report, one module a section."""
