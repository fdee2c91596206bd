"""The report of a session: what was tested, how, what it came to, and what that rests on."""
