"""Pure relations: SI in, SI out, arrays in, arrays out; no files, no state."""
