"""What a procedure is: its types, reading YAML with line-exact errors, checks, drawing, rehearsal aids.
Nothing here speaks, listens or records."""
