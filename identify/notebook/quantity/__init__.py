"""One quantity as it is written: number, uncertainty, unit, and what dimension it has."""
