"""The desk in the browser: pages on this machine, for this machine."""
