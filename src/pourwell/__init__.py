"""Pourwell: from a pattern file, or a weight, to a finished casting, for a small jewellery studio."""

import os

os.environ.setdefault("GOMP_SPINCOUNT", "2000")
"""How long threads of compiled loops turn before they sleep; read as the loops are loaded. For ever is fastest on an idle machine,
and ten times slower on a busy one, where a loop then waits for whole time slices; at once costs 0.14 ms a loop."""
