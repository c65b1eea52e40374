"""What was read at the bench, in SI units: each reading once, with its stated uncertainty."""
