//! How nodes and triangles lie in memory.
//!
//! In: boxes and corners. Out: eight-wide nodes and blocks of eight triangles, lane by lane.

use super::triangle::Corners;
use glam::Vec3;
use obvhs::aabb::Aabb;
use wide::f32x8;

/// Children of a node.
pub(super) const WIDTH: usize = 8;
/// Triangles of a block, and the bits of their number in it.
pub(super) const LANES: usize = 1 << LANE_BITS;
pub(super) const LANE_BITS: u32 = 3;
/// Marks a leaf: then three bits of count − 1, then its block.
const IS_LEAF: u32 = 1 << 31;
const BLOCK_BITS: u32 = 28;

/// Boxes of up to eight children; empty lanes are turned inside out and never met. Four whole lines of a processor's memory:
/// a walk waits for each that it reads.
#[derive(Debug, Clone, Copy)]
#[repr(align(64))]
pub(super) struct Node {
    /// Smallest x, y, z, then largest x, y, z.
    pub planes: [[f32x8; 3]; 2],
    /// Children as [`Child`] packs them.
    pub child: [u32; WIDTH],
}

impl Node {
    /// A node without children.
    pub fn empty() -> Self {
        let (least, most) = (f32x8::splat(f32::INFINITY), f32x8::splat(f32::NEG_INFINITY));
        Self {
            planes: [[least; 3], [most; 3]],
            child: [0; WIDTH],
        }
    }

    /// Sets one child.
    pub fn set(&mut self, lane: usize, aabb: &Aabb, child: u32) {
        for axis in 0..3 {
            self.planes[0][axis].as_mut_array()[lane] = aabb.min[axis];
            self.planes[1][axis].as_mut_array()[lane] = aabb.max[axis];
        }
        self.child[lane] = child;
    }

    /// Smallest and largest corner of the box of a child, infinite where there is none.
    pub fn corners(&self, lane: usize) -> [Vec3; 2] {
        [0, 1].map(|side| {
            Vec3::from_array([0, 1, 2].map(|axis| self.planes[side][axis].as_array()[lane]))
        })
    }
}

/// A child of a node.
#[derive(Debug, Clone, Copy)]
pub(super) enum Child {
    /// An inner node.
    Node(usize),
    /// A block of triangles, with a bit for each lane in use.
    Leaf { block: u32, mask: u32 },
}

impl Child {
    /// From the packed form.
    #[inline]
    pub fn read(packed: u32) -> Self {
        if packed & IS_LEAF == 0 {
            return Self::Node(packed as usize);
        }
        let count = 1 + ((packed & !IS_LEAF) >> BLOCK_BITS);
        Self::Leaf {
            block: packed & ((1 << BLOCK_BITS) - 1),
            mask: (1 << count) - 1,
        }
    }

    /// Where a child is in memory, from its packed form; nothing is read there.
    #[inline(always)]
    pub fn whereabouts(packed: u32, nodes: &[Node], blocks: &[Block]) -> *const u8 {
        let (all, size) = if packed & IS_LEAF == 0 {
            (nodes.as_ptr().cast::<u8>(), size_of::<Node>())
        } else {
            (blocks.as_ptr().cast::<u8>(), size_of::<Block>())
        };
        all.wrapping_add((packed & ((1 << BLOCK_BITS) - 1)) as usize * size)
    }

    /// The packed form of a leaf of one to eight triangles.
    #[expect(clippy::cast_possible_truncation, reason = "at most eight")]
    pub fn leaf(block: u32, count: usize) -> u32 {
        IS_LEAF | (count as u32 - 1) << BLOCK_BITS | block
    }
}

/// Up to eight triangles: by axis, by corner, by lane. Unused lanes repeat the first. Five whole lines.
#[derive(Debug, Clone, Copy)]
#[repr(align(64))]
pub(super) struct Block {
    pub corners: [[f32x8; 3]; 3],
    /// The caller's numbers of them.
    pub number: [u32; LANES],
}

impl Block {
    /// One to eight triangles.
    pub fn new(triangles: &[[Vec3; 3]]) -> Self {
        let number =
            |axis: usize, corner: usize| {
                f32x8::from([0, 1, 2, 3, 4, 5, 6, 7].map(|lane| {
                    triangles[if lane < triangles.len() { lane } else { 0 }][corner][axis]
                }))
            };
        Self {
            corners: [0, 1, 2].map(|axis| [0, 1, 2].map(|corner| number(axis, corner))),
            number: [u32::MAX; LANES],
        }
    }

    /// Corners of one triangle.
    #[inline]
    pub fn corners(&self, lane: usize) -> Corners {
        let [xs, ys, zs] = &self.corners;
        let corner = |at: usize| {
            [
                xs[at].as_array()[lane],
                ys[at].as_array()[lane],
                zs[at].as_array()[lane],
            ]
        };
        [corner(0), corner(1), corner(2)]
    }
}
