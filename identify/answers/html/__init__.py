"""Answers as pages that need no network and hold no script."""
