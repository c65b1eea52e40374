"""What only the section shows of one student."""
