"""The bench's own quality from plain files: duplicates, components, budgets, charts, ring tests."""
