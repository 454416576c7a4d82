"""The use cases that the command line (and later the desk) share."""
