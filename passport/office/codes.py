"""How a command ends, for scripts."""

OK, PROBLEMS, WRONG_USAGE = 0, 1, 2
"""All well; problems in the records; the command itself was wrong."""
