"""What a match finds besides its candidates: readings and compounds that want a word."""
