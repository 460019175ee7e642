"""What is asked of the catalog: the fit engine and the ways to reach it."""
