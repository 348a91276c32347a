"""The survey sheet: what to find out about a room, in the order of the engineer's work.

`form` fills the sheet with what is known, `questions` ranks what is open; writers set both.
"""
