"""Long work over several processes or machines, with the same functions and the same bits as here."""
