"""Pourwell: from a pattern file, or a weight, to a finished casting, for a small jewellery studio."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
"""Threads of the library that multiplies matrices: ours are small, threads of our own share the work out, and those of the library
turn idle beside them, for 0.1 s of every start."""
os.environ.setdefault("GOMP_SPINCOUNT", "2000")
"""How long threads of compiled loops turn before they sleep; read as the loops are loaded. For ever is fastest on an idle machine,
and ten times slower on a busy one, where a loop then waits for whole time slices; at once costs 0.14 ms a loop."""
