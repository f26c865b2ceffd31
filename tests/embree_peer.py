"""The light field by somebody else's rays: crowns as meshes, cast with Embree through trimesh.

Optical depth needs no pairing of hits: extinction times distance is taken away where a ray enters and added where it leaves.
"""

from __future__ import annotations

import numpy as np
import trimesh
from trimesh.ray.ray_pyembree import RayMeshIntersector

from overwood.science.light.field import Crowns
from overwood.science.light.sky import Directions


def crown_meshes(crowns: Crowns, subdivisions: int) -> tuple[trimesh.Trimesh, np.ndarray]:
    """All crowns as one mesh of equal volume, and the extinction of each facet."""
    ball = trimesh.creation.icosphere(subdivisions=subdivisions)
    # Turned askew, so that no ray from a regular grid runs along an edge, where the caster may miss both facets.
    ball.apply_transform(trimesh.transformations.euler_matrix(0.3, 0.7, 1.1))
    grown = ball.vertices * (4 / 3 * np.pi / ball.volume) ** (1 / 3)
    axes = np.column_stack((crowns.a, crowns.b, crowns.c))
    middle = np.column_stack((crowns.x, crowns.y, crowns.centre))
    lower = np.column_stack((crowns.a, crowns.b, crowns.low))
    scale = np.where(grown[None, :, 2:] > 0, axes[:, None], lower[:, None])
    vertices = (grown[None] * scale + middle[:, None]).reshape(-1, 3)
    shift = np.arange(len(axes))[:, None, None] * len(grown)
    faces = (ball.faces[None] + shift).reshape(-1, 3)
    return trimesh.Trimesh(vertices, faces, process=False), np.repeat(crowns.k, len(ball.faces))


def light_by_embree(crowns: Crowns, ways: Directions, block: dict, *, subdivisions: int = 2) -> np.ndarray:
    """Share of open light at the cells of a block with open edges."""
    rows, columns = round(block["height_m"] / block["spacing_m"]), round(block["width_m"] / block["spacing_m"])
    y, x = np.mgrid[0:rows, 0:columns]
    points = np.column_stack(((x.ravel() + 0.5) * block["spacing_m"], (y.ravel() + 0.5) * block["spacing_m"], np.zeros(rows * columns)))
    mesh, k = crown_meshes(crowns, subdivisions)
    caster, normals = RayMeshIntersector(mesh), mesh.face_normals
    light = np.zeros(len(points))
    for dx, dy, dz, weight in zip(ways.x, ways.y, ways.z, ways.weight, strict=True):
        way = np.array([dx, dy, dz])
        facet, ray, place = caster.intersects_id(points, np.tile(way, (len(points), 1)), multiple_hits=True, return_locations=True)
        along = ((place - points[ray]) * way).sum(axis=1)
        tau = np.bincount(ray, weights=np.sign(normals[facet] @ way) * k[facet] * along, minlength=len(points))
        light += weight * np.exp(-tau)
    return light.reshape(rows, columns)
