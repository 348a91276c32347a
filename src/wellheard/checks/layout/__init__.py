"""Rules on people, chairs and furniture: whether the room as drawn can be used."""
