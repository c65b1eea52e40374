"""Answers as files for other programs: tables, workbooks and printed cards."""
