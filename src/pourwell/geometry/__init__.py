"""Pure geometry in millimetres: arrays in, arrays out; no files, no clock, no logging."""
