"""IFC building models."""
