"""What to do about a number near a limit: odds, aim point, worth of another test, retests, referee."""
