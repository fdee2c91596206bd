"""Review: any session file or CSV, its curves, trials and details."""
