"""What Review shows: the trials of a session, their marks, measures and faults, in words."""
