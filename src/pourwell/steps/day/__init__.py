"""The day: clock times, check list with gates."""
