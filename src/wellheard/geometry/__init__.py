"""Plane geometry on arrays: areas, inside tests, nearest points, sample points."""

from __future__ import annotations

from wellheard.geometry.points import (
    contains_points,
    contains_polygon,
    distance_outside,
    distance_to_edges,
    grid_in_polygon,
    interior_point,
    nearest_point_on_polygon,
    samples_in_polygon,
)
from wellheard.geometry.polygons import (
    centroid,
    edge_conflicts,
    edge_lengths,
    edge_normals,
    edge_vectors,
    is_convex,
    perimeter,
    polygon_area,
)

__all__ = [
    "centroid",
    "contains_points",
    "contains_polygon",
    "distance_outside",
    "distance_to_edges",
    "edge_conflicts",
    "edge_lengths",
    "edge_normals",
    "edge_vectors",
    "grid_in_polygon",
    "interior_point",
    "is_convex",
    "nearest_point_on_polygon",
    "perimeter",
    "polygon_area",
    "samples_in_polygon",
]
