"""Published tables and the few formulas that go with them, each with its source."""
