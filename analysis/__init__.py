"""From traces to measures and verdicts: pure functions, no clock, no port, no screen."""
