//! Integrals for references: over triangles, intervals and full turns.

use glam::DVec3;

/// Mean of a smooth function over a triangle by the seven-point rule of degree 5, on 4^`halvings`
/// congruent pieces.
///
/// Source: J. Radon, Monatsh. Math. 52, 286 (1948), as in A. H. Stroud, Approximate Calculation of
/// Multiple Integrals (1971), T2:5-1 (from memory; the test below integrates all monomials to degree 5).
pub fn triangle_mean(corners: [DVec3; 3], halvings: u32, f: &dyn Fn(DVec3) -> f64) -> f64 {
    let [a, b, c] = corners;
    if halvings > 0 {
        let [ab, bc, ca] = [0.5 * (a + b), 0.5 * (b + c), 0.5 * (c + a)];
        let pieces = [[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]];
        return 0.25
            * pieces
                .iter()
                .map(|&p| triangle_mean(p, halvings - 1, f))
                .sum::<f64>();
    }
    let root = 15.0_f64.sqrt();
    let mut sum = 9.0 / 40.0 * f((a + b + c) / 3.0);
    for (near, weight) in [
        ((6.0 - root) / 21.0, (155.0 - root) / 1200.0),
        ((6.0 + root) / 21.0, (155.0 + root) / 1200.0),
    ] {
        let far = 1.0 - 2.0 * near;
        for point in [
            far * a + near * b + near * c,
            near * a + far * b + near * c,
            near * a + near * b + far * c,
        ] {
            sum += weight * f(point);
        }
    }
    sum
}

/// Nodes and weights of Gauss and Legendre on [−1, 1], by Newton's method on the polynomial.
///
/// Source: M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions (1964), 25.4.29.
pub fn gauss_legendre(count: u32) -> Vec<(f64, f64)> {
    let n = f64::from(count);
    (0..count)
        .map(|k| {
            let mut x = (std::f64::consts::PI * (f64::from(k) + 0.75) / (n + 0.5)).cos();
            let mut slope = 1.0;
            for _ in 0..100 {
                let (mut p, mut before) = (1.0, 0.0);
                for j in 0..count {
                    let j = f64::from(j);
                    (p, before) = (((2.0 * j + 1.0) * x * p - j * before) / (j + 1.0), p);
                }
                slope = n * (x * p - before) / (x * x - 1.0);
                let step = p / slope;
                x -= step;
                if step.abs() < 1e-16 {
                    break;
                }
            }
            (x, 2.0 / ((1.0 - x * x) * slope * slope))
        })
        .collect()
}

/// ∫ f from `from` to `to` by 20 Gauss points on each of `panels` panels.
pub fn integral(from: f64, to: f64, panels: u32, f: impl Fn(f64) -> f64) -> f64 {
    let nodes = gauss_legendre(20);
    let half = 0.5 * (to - from) / f64::from(panels);
    let panel = |k: u32| {
        let middle = from + half * f64::from(2 * k + 1);
        half * nodes
            .iter()
            .map(|&(x, w)| w * f(middle + half * x))
            .sum::<f64>()
    };
    (0..panels).map(panel).sum()
}

/// Mean of a smooth function of period 2π over a turn by the rule of equal steps, which converges
/// faster than any power there.
pub fn turn_mean(steps: u32, f: impl Fn(f64) -> f64) -> f64 {
    let n = f64::from(steps);
    (0..steps)
        .map(|k| f(std::f64::consts::TAU * (f64::from(k) + 0.5) / n))
        .sum::<f64>()
        / n
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn triangle_rule_is_exact_to_degree_five() {
        // ∫∫ xⁱ yʲ over the unit right triangle = i! j! / (i + j + 2)!, its area is 1/2.
        let corners = [DVec3::ZERO, DVec3::X, DVec3::Y];
        let factorial = |n: u32| (1..=n).map(f64::from).product::<f64>();
        for i in 0..=5_u32 {
            for j in 0..=(5 - i) {
                let f = |p: DVec3| p.x.powi(i.cast_signed()) * p.y.powi(j.cast_signed());
                let exact = 2.0 * factorial(i) * factorial(j) / factorial(i + j + 2);
                for halvings in 0..2 {
                    let found = triangle_mean(corners, halvings, &f);
                    assert!(
                        (found - exact).abs() < 1e-15,
                        "x^{i} y^{j}: {found} against {exact}"
                    );
                }
            }
        }
    }

    #[test]
    fn line_rules_integrate_known_functions() {
        assert!((integral(0.0, 3.0, 4, f64::exp) - (3.0_f64.exp() - 1.0)).abs() < 1e-13);
        let weights: f64 = gauss_legendre(40).iter().map(|node| node.1).sum();
        assert!((weights - 2.0).abs() < 1e-13);
        // Mean of 1/(2 − cos φ) over a turn is 1/√3.
        let mean = turn_mean(64, |phi| 1.0 / (2.0 - phi.cos()));
        assert!((mean - 1.0 / 3.0_f64.sqrt()).abs() < 1e-15);
    }
}
