"""Drawings as DXF files: entities on layers in true size, with a sheet in paper space."""
