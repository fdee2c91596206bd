"""What Audit shows and runs: the work on an archive, the findings in words, charts and tables."""
