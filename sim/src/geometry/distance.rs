//! Closest distances between points, segments and triangles.
//!
//! In: corners in metres. Out: distances in metres and where they are taken. Exact up to rounding.

use glam::DVec3;

/// The point of a triangle closest to a point.
///
/// - returns the closest point and the weights of the second and third corner there
///
/// Source: walk over the Voronoi regions of corners, edges and face, derived from the dot products of
/// the edges with the way to the point.
pub fn closest_on_triangle(point: DVec3, [a, b, c]: [DVec3; 3]) -> (DVec3, [f64; 2]) {
    let (ab, ac, ap) = (b - a, c - a, point - a);
    let (d1, d2) = (ab.dot(ap), ac.dot(ap));
    if d1 <= 0.0 && d2 <= 0.0 {
        return (a, [0.0, 0.0]);
    }
    let bp = point - b;
    let (d3, d4) = (ab.dot(bp), ac.dot(bp));
    if d3 >= 0.0 && d4 <= d3 {
        return (b, [1.0, 0.0]);
    }
    let cp = point - c;
    let (d5, d6) = (ab.dot(cp), ac.dot(cp));
    if d6 >= 0.0 && d5 <= d6 {
        return (c, [0.0, 1.0]);
    }
    let vc = d1 * d4 - d3 * d2;
    if vc <= 0.0 && d1 >= 0.0 && d3 <= 0.0 {
        let v = d1 / (d1 - d3);
        return (a + ab * v, [v, 0.0]);
    }
    let vb = d5 * d2 - d1 * d6;
    if vb <= 0.0 && d2 >= 0.0 && d6 <= 0.0 {
        let w = d2 / (d2 - d6);
        return (a + ac * w, [0.0, w]);
    }
    let va = d3 * d6 - d5 * d4;
    let (to_c, to_b) = (d4 - d3, d5 - d6);
    if va <= 0.0 && to_c >= 0.0 && to_b >= 0.0 {
        let w = to_c / (to_c + to_b);
        return (b + (c - b) * w, [1.0 - w, w]);
    }
    let sum = va + vb + vc;
    if sum <= 0.0 {
        return (a, [0.0, 0.0]); // no area: the regions above have covered its edges up to rounding
    }
    let (v, w) = (vb / sum, vc / sum);
    (a + ab * v + ac * w, [v, w])
}

/// The closest pair of points of two segments.
pub fn closest_of_segments([a, b]: [DVec3; 2], [c, d]: [DVec3; 2]) -> [DVec3; 2] {
    let (u, v, r) = (b - a, d - c, a - c);
    let (uu, vv, uv) = (u.length_squared(), v.length_squared(), u.dot(v));
    let (ur, vr) = (u.dot(r), v.dot(r));
    if uu <= 0.0 && vv <= 0.0 {
        return [a, c];
    }
    if uu <= 0.0 {
        return [a, c + v * (vr / vv).clamp(0.0, 1.0)];
    }
    if vv <= 0.0 {
        return [a + u * (-ur / uu).clamp(0.0, 1.0), c];
    }
    let parallel = uu * vv - uv * uv;
    let s = if parallel > 1e-14 * uu * vv {
        ((uv * vr - ur * vv) / parallel).clamp(0.0, 1.0)
    } else {
        0.0 // parallel: any s with its own best t, the ends are seen to below
    };
    let t = (uv * s + vr) / vv;
    let (s, t) = if t < 0.0 {
        ((-ur / uu).clamp(0.0, 1.0), 0.0)
    } else if t > 1.0 {
        (((uv - ur) / uu).clamp(0.0, 1.0), 1.0)
    } else {
        (s, t)
    };
    [a + u * s, c + v * t]
}

/// The closest pair of points of two triangles; equal points where they touch or cross.
pub fn closest_of_triangles(one: [DVec3; 3], other: [DVec3; 3]) -> [DVec3; 2] {
    let mut best = [one[0], other[0]];
    let mut least = best[0].distance_squared(best[1]);
    let mut offer = |pair: [DVec3; 2]| {
        let d = pair[0].distance_squared(pair[1]);
        if d < least {
            (best, least) = (pair, d);
        }
    };
    for i in 0..3 {
        let edge = [one[i], one[(i + 1) % 3]];
        for j in 0..3 {
            offer(closest_of_segments(edge, [other[j], other[(j + 1) % 3]]));
        }
        if let Some(at) = crossing(edge, other) {
            return [at, at];
        }
        if let Some(at) = crossing([other[i], other[(i + 1) % 3]], one) {
            return [at, at];
        }
        offer([one[i], closest_on_triangle(one[i], other).0]);
        offer([closest_on_triangle(other[i], one).0, other[i]]);
    }
    best
}

/// Where a segment passes through the inside of a triangle; none if it lies in its plane or ends there.
fn crossing([p, q]: [DVec3; 2], [a, b, c]: [DVec3; 3]) -> Option<DVec3> {
    let normal = (b - a).cross(c - a);
    let (from, to) = (normal.dot(p - a), normal.dot(q - a));
    if from * to >= 0.0 {
        return None;
    }
    let at = p + (q - p) * (from / (from - to));
    let inside = |u: DVec3, v: DVec3| (v - u).cross(at - u).dot(normal) >= 0.0;
    (inside(a, b) && inside(b, c) && inside(c, a)).then_some(at)
}

/// Whether an edge of one of two triangles passes through the other, its ends further than `depth_m` from
/// the other's plane on either side.
///
/// Flush or touching triangles do not pierce each other; a cut through a solid does.
pub fn pierce(one: [DVec3; 3], other: [DVec3; 3], depth_m: f64) -> bool {
    let through = |edge: [DVec3; 2], face: [DVec3; 3]| {
        let normal = (face[1] - face[0])
            .cross(face[2] - face[0])
            .normalize_or_zero();
        let heights = edge.map(|end| normal.dot(end - face[0]));
        let (low, high) = (heights[0].min(heights[1]), heights[0].max(heights[1]));
        low < -depth_m && high > depth_m && crossing(edge, face).is_some()
    };
    (0..3).any(|i| {
        through([one[i], one[(i + 1) % 3]], other) || through([other[i], other[(i + 1) % 3]], one)
    })
}

/// The point of an upright box closest to a point (itself inside).
pub fn closest_in_box(point: DVec3, [low, high]: [DVec3; 2]) -> DVec3 {
    point.max(low).min(high)
}

/// Distance of a point from an upright box, m; 0 inside.
pub fn to_box(point: DVec3, [low, high]: [DVec3; 2]) -> f64 {
    (low - point).max(point - high).max(DVec3::ZERO).length()
}

/// How often closed shells wind around a point: 1 inside, 0 outside, exact up to rounding away from the
/// surface.
///
/// Σ over the triangles of the solid angle / 4π, each by
/// tan(Ω/2) = a·(b × c) / (abc + (a·b)c + (b·c)a + (c·a)b).
///
/// Source: A. Van Oosterom & J. Strackee, IEEE Trans. Biomed. Eng. 30, 125 (1983), from memory.
pub fn winding(point: DVec3, triangles: impl Iterator<Item = [DVec3; 3]>) -> f64 {
    let halves = triangles.map(|corners| {
        let [a, b, c] = corners.map(|corner| corner - point);
        let [la, lb, lc] = [a.length(), b.length(), c.length()];
        let below = la * lb * lc + a.dot(b) * lc + b.dot(c) * la + c.dot(a) * lb;
        a.dot(b.cross(c)).atan2(below)
    });
    halves.sum::<f64>() / std::f64::consts::TAU
}
