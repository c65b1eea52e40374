"""What all errors about input have in common."""


class UnusableInput(ValueError):
    """What was given cannot be used.

    The message is one line: what was read and where, why it cannot be used, and what to do.
    """
