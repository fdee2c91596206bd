"""What Plan shows: who, what, with which sensor, in which order, and what keeps it from beginning."""
