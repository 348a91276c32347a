"""A room with its devices as a building model (IFC4), for those who coordinate the building."""
