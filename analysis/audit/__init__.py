"""How examiners work, from the shape of their curves."""
