"""Materials with unit, source and grade behind every value; the studio and its equipment."""
