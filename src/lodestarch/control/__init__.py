"""Is the bench in control: rules of a good bench, charts, duplicates, ring tests, comparison."""
