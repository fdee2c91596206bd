"""How far a reading can be trusted to come out the same again: from one's own data, and as published."""
