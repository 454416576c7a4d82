"""Files in and out: pattern readers, job files, the plan as data."""
