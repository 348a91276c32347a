"""Floor plans of other programs to rooms: what is in a file, never what one would wish in it."""
