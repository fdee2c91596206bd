"""What Test shows: the cue, the wanted band, the card of the action with its figure, the tones."""
