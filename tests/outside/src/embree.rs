//! Embree 4, opened where it is installed.
//!
//! The library's name comes from the variable `EMBREE`, or is that of a common installation. Nothing here is needed by the program.
//! Source of the interface: the public headers of Embree 4 (`rtcore_*.h`, Apache-2.0); only what is called is declared.

use crate::sets::Line;
use glam::Vec3;
use libloading::Library;
use std::ffi::c_void;

type Handle = *mut c_void;

const ROBUST: u32 = 4;
const TRIANGLES: u32 = 0;
const INDEX: u32 = 0;
const VERTEX: u32 = 1;
const UINT3: u32 = 0x5003;
const FLOAT3: u32 = 0x9003;

/// `RTCRayHit`, with room for hits of every build of the library.
#[repr(C, align(64))]
#[derive(Clone, Copy)]
struct RayHit {
    origin: [f32; 3],
    near: f32,
    direction: [f32; 3],
    time: f32,
    far: f32,
    mask: u32,
    id: u32,
    flags: u32,
    hit: [u32; 20],
}

/// `RTCRay16`.
#[repr(C, align(64))]
#[derive(Clone)]
struct Ray16 {
    origin: [[f32; 16]; 3],
    near: [f32; 16],
    direction: [[f32; 16]; 3],
    time: [f32; 16],
    far: [f32; 16],
    mask: [u32; 16],
    id: [u32; 16],
    flags: [u32; 16],
}

/// What is called per ray.
struct Calls {
    occluded: unsafe extern "C" fn(Handle, *mut RayHit, *const c_void),
    intersect: unsafe extern "C" fn(Handle, *mut RayHit, *const c_void),
    occluded16: unsafe extern "C" fn(*const i32, Handle, *mut Ray16, *const c_void),
}

/// A scene in Embree.
pub struct Embree {
    calls: Calls,
    scene: Handle,
    /// Kept open.
    _library: Library,
}

/// Rays in the library's own layout.
pub struct Packed {
    single: Vec<RayHit>,
    sixteen: Vec<Ray16>,
}

/// Share of a ray's length near its start where nothing is met, for rays that start on a triangle.
const NEAR: f64 = 1e-5;

fn near(line: &Line) -> f32 {
    if line.skip.is_some() {
        NEAR as f32
    } else {
        0.0
    }
}

impl Packed {
    pub fn new(lines: &[Line]) -> Self {
        let single = lines
            .iter()
            .map(|line| RayHit {
                origin: line.origin.as_vec3().to_array(),
                near: near(line),
                direction: line.direction.as_vec3().to_array(),
                time: 0.0,
                far: line.end as f32,
                mask: u32::MAX,
                id: 0,
                flags: 0,
                hit: [u32::MAX; 20],
            })
            .collect();
        let sixteen = lines
            .chunks_exact(16)
            .map(|lines| {
                let axes = |of: &dyn Fn(&Line) -> [f32; 3]| {
                    [0, 1, 2].map(|axis| std::array::from_fn(|k| of(&lines[k])[axis]))
                };
                Ray16 {
                    origin: axes(&|l| l.origin.as_vec3().to_array()),
                    near: std::array::from_fn(|k| near(&lines[k])),
                    direction: axes(&|l| l.direction.as_vec3().to_array()),
                    time: [0.0; 16],
                    far: std::array::from_fn(|k| lines[k].end as f32),
                    mask: [u32::MAX; 16],
                    id: [0; 16],
                    flags: [0; 16],
                }
            })
            .collect();
        Self { single, sixteen }
    }
}

impl Embree {
    /// A scene with the robust flag, or why there is none.
    pub fn new(triangles: &[[Vec3; 3]]) -> Result<Self, String> {
        let name = std::env::var("EMBREE").unwrap_or_else(|_| "libembree4.so.4".to_owned());
        // SAFETY: the library is Embree 4, whose interface is declared as its headers have it; buffers are as large
        // as they are said to be and are written before they are read.
        unsafe {
            let library =
                Library::new(&name).map_err(|e| format!("{name} cannot be opened ({e})"))?;
            macro_rules! call {
                ($name:literal, fn($($argument:ty),*) $(-> $result:ty)?) => {
                    *library
                        .get::<unsafe extern "C" fn($($argument),*) $(-> $result)?>(concat!($name, "\0").as_bytes())
                        .map_err(|e| e.to_string())?
                };
            }
            let device: Handle =
                call!("rtcNewDevice", fn(*const u8) -> Handle)(c"threads=1".as_ptr().cast());
            if device.is_null() {
                return Err(format!("{name} gives no device"));
            }
            let scene: Handle = call!("rtcNewScene", fn(Handle) -> Handle)(device);
            call!("rtcSetSceneFlags", fn(Handle, u32))(scene, ROBUST);
            call!("rtcSetSceneBuildQuality", fn(Handle, u32))(scene, 1);
            let body: Handle =
                call!("rtcNewGeometry", fn(Handle, u32) -> Handle)(device, TRIANGLES);
            let buffer = call!(
                "rtcSetNewGeometryBuffer",
                fn(Handle, u32, u32, u32, usize, usize) -> *mut c_void
            );
            let count = triangles.len();
            let corners: *mut [f32; 3] = buffer(body, VERTEX, 0, FLOAT3, 12, 3 * count).cast();
            let rows: *mut [u32; 3] = buffer(body, INDEX, 0, UINT3, 12, count).cast();
            for (k, triangle) in triangles.iter().enumerate() {
                for (side, corner) in triangle.iter().enumerate() {
                    corners.add(3 * k + side).write(corner.to_array());
                }
                let first = 3 * k as u32;
                rows.add(k).write([first, first + 1, first + 2]);
            }
            call!("rtcCommitGeometry", fn(Handle))(body);
            call!("rtcAttachGeometry", fn(Handle, Handle) -> u32)(scene, body);
            call!("rtcCommitScene", fn(Handle))(scene);
            let calls = Calls {
                occluded: call!("rtcOccluded1", fn(Handle, *mut RayHit, *const c_void)),
                intersect: call!("rtcIntersect1", fn(Handle, *mut RayHit, *const c_void)),
                occluded16: call!(
                    "rtcOccluded16",
                    fn(*const i32, Handle, *mut Ray16, *const c_void)
                ),
            };
            Ok(Self {
                calls,
                scene,
                _library: library,
            })
        }
    }

    /// How many are blocked, one by one.
    pub fn blocked(&self, rays: &Packed) -> usize {
        let blocked = |ray: &&RayHit| {
            let mut ray = **ray;
            // SAFETY: the scene is committed, the ray aligned as asked.
            unsafe { (self.calls.occluded)(self.scene, &raw mut ray, std::ptr::null()) };
            ray.far < 0.0
        };
        rays.single.iter().filter(blocked).count()
    }

    /// How many are blocked, sixteen at a time.
    ///
    /// - `alike`: the library is told that they run alike, and traces them as one
    pub fn blocked16(&self, rays: &Packed, alike: Alike) -> usize {
        let arguments = match alike {
            Alike::Yes => (&raw const ALIKE_ONES).cast(),
            Alike::No => std::ptr::null(),
        };
        let valid = Valid([-1; 16]);
        let mut blocked = 0;
        for rays in &rays.sixteen {
            let mut rays = rays.clone();
            // SAFETY: as above.
            unsafe {
                (self.calls.occluded16)(valid.0.as_ptr(), self.scene, &raw mut rays, arguments)
            };
            blocked += rays.far.iter().filter(|far| **far < 0.0).count();
        }
        blocked
    }

    /// How many meet something.
    pub fn first(&self, rays: &Packed) -> usize {
        let meets = |ray: &&RayHit| {
            let mut ray = **ray;
            let end = ray.far;
            // SAFETY: as above.
            unsafe { (self.calls.intersect)(self.scene, &raw mut ray, std::ptr::null()) };
            ray.far < end
        };
        rays.single.iter().filter(meets).count()
    }
}

/// `RTCOccludedArguments` as far as it is used: rays of a packet run alike, everything else is off.
#[repr(C)]
struct Arguments {
    flags: u32,
    features: u32,
    context: *const c_void,
    filter: *const c_void,
    occluded: *const c_void,
    room: [u64; 8],
}

/// Whether rays of a packet are said to run alike.
#[derive(Clone, Copy)]
pub enum Alike {
    Yes,
    No,
}

// SAFETY: nothing in it is ever changed, and its pointers are null.
unsafe impl Sync for Arguments {}

static ALIKE_ONES: Arguments = Arguments {
    flags: 1 << 16,
    features: u32::MAX,
    context: std::ptr::null(),
    filter: std::ptr::null(),
    occluded: std::ptr::null(),
    room: [0; 8],
};

/// `valid`, aligned as asked.
#[repr(align(64))]
struct Valid([i32; 16]);
