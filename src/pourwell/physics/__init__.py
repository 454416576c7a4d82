"""Pure physics in SI units: arrays in, arrays out; no files, no clock, no logging."""
