"""The benchmarks are scripts to run by hand: pytest is not to import them for doctests."""

collect_ignore_glob = ["bench_*.py", "mutants.py", "mistakes.py"]
