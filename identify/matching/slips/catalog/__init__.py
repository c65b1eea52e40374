"""The slips that are looked for, one file for what they spoil."""
