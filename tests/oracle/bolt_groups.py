"""How the bolts of a stiff part share a force: elastic method, every bolt the same spring in all directions.

r = P / n + theta x arm, where theta turns the part about the bolts' centroid until the bolts' moment is the load's.
Vectors are lists of three along x, inboard y and up z; mm, N, N mm.
"""

from __future__ import annotations

import math

NO_ARMS = 1e-9
"""Of the greatest inertia: about an axis of less the bolts have no arms."""


def shared(positions, force, point):
    """The part's force on each bolt, and the moment that they have no arms for."""
    count = len(positions)
    centroid = [sum(position[axis] for position in positions) / count for axis in range(3)]
    arms = [minus(position, centroid) for position in positions]
    moment = cross(minus(point, centroid), force)
    inertia = [[0.0] * 3 for _ in range(3)]
    for arm in arms:
        for i in range(3):
            for j in range(3):
                inertia[i][j] += (dot(arm, arm) if i == j else 0.0) - arm[i] * arm[j]
    axes = principal_axes(inertia)
    greatest = max(max(size for size, _ in axes), 1.0)
    turn, left = [0.0] * 3, [0.0] * 3
    for size, axis in axes:
        about = dot(moment, axis)
        for i in range(3):
            if size > NO_ARMS * greatest:
                turn[i] += about / size * axis[i]
            else:
                left[i] += about * axis[i]
    forces = []
    for arm in arms:
        swung = cross(turn, arm)
        forces.append([force[i] / count + swung[i] for i in range(3)])
    return forces, left


def principal_axes(matrix):
    """Principal values and axes of a symmetric matrix: turned in one plane after another till nothing is beside them.

    The method is Jacobi's.
    """
    values = [row[:] for row in matrix]
    axes = [[1.0 if i == j else 0.0 for j in range(3)] for i in range(3)]  # in rows
    for _ in range(60):
        for p, q in ((0, 1), (0, 2), (1, 2)):
            if values[p][q] == 0.0:
                continue
            angle = 0.5 * math.atan2(2.0 * values[p][q], values[q][q] - values[p][p])
            c, s = math.cos(angle), math.sin(angle)
            for k in range(3):
                a, b = values[k][p], values[k][q]
                values[k][p], values[k][q] = c * a - s * b, s * a + c * b
            for k in range(3):
                a, b = values[p][k], values[q][k]
                values[p][k], values[q][k] = c * a - s * b, s * a + c * b
            for k in range(3):
                a, b = axes[p][k], axes[q][k]
                axes[p][k], axes[q][k] = c * a - s * b, s * a + c * b
    return [(values[i][i], axes[i]) for i in range(3)]


def minus(a, b):
    """a - b."""
    return [a[i] - b[i] for i in range(3)]


def dot(a, b):
    """Scalar product."""
    return sum(a[i] * b[i] for i in range(3))


def cross(a, b):
    """Vector product."""
    return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]


def length(a):
    """Length of a vector."""
    return math.sqrt(dot(a, a))
