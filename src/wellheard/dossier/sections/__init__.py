"""The parts of the dossier, one module each, every one a function from evidence to words."""
