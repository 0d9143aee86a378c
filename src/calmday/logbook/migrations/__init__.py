"""How the tables of the logbook came to be: ordered functions, each in one transaction of its own."""
