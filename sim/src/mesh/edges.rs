//! Edges: which triangles meet at each edge.
//!
//! In: rows of corner numbers. Out: runs of the triangles at one edge, edges in ascending order.

use rayon::prelude::*;

/// One side of a triangle at an edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Side {
    high: u32,
    tag: u32,
}

impl Side {
    /// Row of the triangle.
    pub fn row(self) -> usize {
        (self.tag >> 1) as usize
    }

    /// 0 if the triangle runs through the edge from its lower corner number to the higher, else 1.
    pub fn direction(self) -> u32 {
        self.tag & 1
    }
}

/// All edges of a mesh.
pub(super) struct Edges {
    /// Start in `sides` of the edges whose lower corner is this one, and the total.
    starts: Vec<u32>,
    sides: Vec<Side>,
}

impl Edges {
    /// Sorts the edges of the rows that `takes_part` accepts: first by their lower corner (counted,
    /// then placed), then each of the short lists by the higher one.
    pub fn of(triangles: &[[u32; 3]], vertices: usize, takes_part: impl Fn(usize) -> bool) -> Self {
        let mut starts = vec![0_u32; vertices + 1];
        let rows = || (0..triangles.len()).filter(|row| takes_part(*row));
        for row in rows() {
            for (from, to) in around(triangles[row]) {
                starts[from.min(to) as usize] += 1;
            }
        }
        let mut total = 0;
        for start in &mut starts {
            total += *start;
            *start = total;
        }
        // From the ends down, so that each start is at its place when all are placed.
        let mut sides = vec![Side { high: 0, tag: 0 }; total as usize];
        for row in rows() {
            for (from, to) in around(triangles[row]) {
                let start = &mut starts[from.min(to) as usize];
                *start -= 1;
                #[expect(
                    clippy::cast_possible_truncation,
                    reason = "rows are numbered within 30 bits"
                )]
                let tag = (row as u32) << 1 | u32::from(from > to);
                sides[*start as usize] = Side {
                    high: from.max(to),
                    tag,
                };
            }
        }
        let mut lists = Vec::with_capacity(vertices);
        let mut rest = sides.as_mut_slice();
        for pair in starts.windows(2) {
            let (list, after) = rest.split_at_mut((pair[1] - pair[0]) as usize);
            lists.push(list);
            rest = after;
        }
        lists
            .into_par_iter()
            .with_min_len(4096)
            .for_each(<[Side]>::sort_unstable);
        Self { starts, sides }
    }

    /// The triangles at each edge, one run per edge.
    pub fn runs(&self) -> impl Iterator<Item = &[Side]> {
        self.starts
            .windows(2)
            .map(|pair| &self.sides[pair[0] as usize..pair[1] as usize])
            .flat_map(|list| list.chunk_by(|a, b| a.high == b.high))
    }
}

fn around([a, b, c]: [u32; 3]) -> [(u32, u32); 3] {
    [(a, b), (b, c), (c, a)]
}
