"""Rules on what people in the room hear of the far end."""
