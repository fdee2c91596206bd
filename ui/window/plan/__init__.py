"""Plan: the form that says who is tested, what, and with which sensor."""
