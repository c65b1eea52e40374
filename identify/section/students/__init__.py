"""What one student of a section did."""
