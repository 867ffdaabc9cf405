"""What the season shows: one use case for each question, and its answer as plain values."""
