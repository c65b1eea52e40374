"""Why a candidate is likely, and why another is not."""
