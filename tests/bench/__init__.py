"""Large made catalogs, and the command that measures the program on them: `python -m tests.bench`."""
