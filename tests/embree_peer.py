"""The light field by somebody else's rays: crowns as meshes, cast with Embree through trimesh.

Optical depth needs no pairing of hits: extinction times distance is taken away where a ray enters and added where it leaves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import trimesh
from trimesh.ray.ray_pyembree import RayMeshIntersector

from overwood.science.light.crowns import Crowns
from overwood.science.light.raster import Raster
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


def repeated(crowns: Crowns, raster: Raster, lowest: float) -> Crowns:
    """Copies of a repeating block's crowns wide enough around that no ray steeper than a sine ends among none."""
    reach = (crowns.centre + crowns.c).max() * math.sqrt(1 - lowest**2) / lowest + max(crowns.a.max(), crowns.b.max())
    across, up = (math.ceil(reach / size) for size in (raster.width_m, raster.height_m))
    shifts = [(i * raster.width_m, j * raster.height_m) for i in range(-across, across + 1) for j in range(-up, up + 1)]
    places = [(crowns.x + east, crowns.y + north) for east, north in shifts]
    x, y = (np.concatenate(side) for side in zip(*places, strict=True))
    return Crowns(x, y, *(np.tile(column, len(shifts)) for column in crowns.columns[2:]))


@dataclass(frozen=True)
class Scene:
    """The crowns as a mesh with its search tree, ready for rays."""

    caster: RayMeshIntersector
    normals: np.ndarray
    k: np.ndarray

    @classmethod
    def of(cls, crowns: Crowns, subdivisions: int) -> Scene:
        mesh, k = crown_meshes(crowns, subdivisions)
        return cls(RayMeshIntersector(mesh), mesh.face_normals, k)

    def depths(self, points: np.ndarray, ways: np.ndarray) -> np.ndarray:
        """Optical depth of each ray, one call for all."""
        facet, ray, place = self.caster.intersects_id(points, ways, multiple_hits=True, return_locations=True)
        along = ((place - points[ray]) * ways[ray]).sum(axis=1)
        sign = np.sign((self.normals[facet] * ways[ray]).sum(axis=1))
        return np.bincount(ray, weights=sign * self.k[facet] * along, minlength=len(points))


def _points(raster: Raster) -> np.ndarray:
    px, py = raster.middles()
    x, y = np.meshgrid(px, py)
    return np.column_stack((x.ravel(), y.ravel(), np.zeros(x.size)))


def light_by_calls(scene: Scene, ways: Directions, raster: Raster) -> np.ndarray:
    """Share of open light at the cells of a block with open edges, one call a direction."""
    points, light = _points(raster), np.zeros(raster.rows * raster.columns)
    for dx, dy, dz, weight in zip(ways.x, ways.y, ways.z, ways.weight, strict=True):
        light += weight * np.exp(-scene.depths(points, np.tile((dx, dy, dz), (len(points), 1))))
    return light.reshape(raster.shape)


def light_at_once(scene: Scene, ways: Directions, raster: Raster) -> np.ndarray:
    """The same with every ray in one call; the caster then loses some of the hits."""
    points, count = _points(raster), len(ways.z)
    vectors = np.repeat(np.column_stack((ways.x, ways.y, ways.z)), len(points), axis=0)
    depths = scene.depths(np.tile(points, (count, 1)), vectors).reshape(count, -1)
    return (ways.weight @ np.exp(-depths)).reshape(raster.shape)


def light_by_embree(crowns: Crowns, ways: Directions, raster: Raster, *, subdivisions: int = 2) -> np.ndarray:
    """Share of open light at the cells of a block with open edges."""
    return light_by_calls(Scene.of(crowns, subdivisions), ways, raster)
