"""The migration scripts, in order of their numbers."""
