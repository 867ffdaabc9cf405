"""Every version of the tables, from the first on."""
