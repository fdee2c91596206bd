"""Test: read from three metres; cue, force, trace, verdict, trials, and the sound."""
