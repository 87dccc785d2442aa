// The stage: solids painted facet by facet, and lines.
//
// Colours are sRGB-encoded throughout; shading scales them, so that a colour keeps its place on the scale.
// Signs read in grey too: broad dark stripes rising to the right on bare area, fine ones falling to the
// right on thin area.

struct View {
    clip_from_chamber: mat4x4<f32>,
    eye: vec4<f32>,
    // chamber frame: what is in front of the plane, n·x > w, is cut away; n = 0: nothing
    cut: vec4<f32>,
    // a bit for each shutter or stencil that is not drawn
    hidden_screens: vec4<u32>,
    // width and height of the picture and half the width of lines, pixels
    screen: vec4<f32>,
};

@group(0) @binding(0) var<uniform> view: View;
// One entry per painted facet: red, green, blue, sign.
@group(0) @binding(1) var<storage, read> paint: array<u32>;
// Where things are at the playhead: the chamber, what rides, then the parts one by one.
@group(0) @binding(2) var<storage, read> places: array<mat4x4<f32>>;

const PLAIN: u32 = 0u;
const BARE: u32 = 1u;
const THIN: u32 = 2u;

struct Corner {
    @location(0) position: vec3<f32>,
    // facet number, or a colour
    @location(1) what: u32,
    // 1: a line drawn a little nearer than it is; 2: painted by facet; 4, 8: seen from its front, its back only; from bit 8 on: number of the shutter or stencil
    // it belongs to, plus one; from bit 16 on: number of its place
    @location(2) kind: u32,
};

struct Seen {
    @builtin(position) clip: vec4<f32>,
    @location(0) chamber: vec3<f32>,
    @location(1) @interpolate(flat) colour: vec4<f32>,
    @location(2) @interpolate(flat) sign: u32,
    @location(3) @interpolate(flat) kind: u32,
};

fn unpacked(bits: u32) -> vec4<f32> {
    return unpack4x8unorm(bits);
}

@vertex
fn corner(in: Corner) -> Seen {
    let place = places[in.kind >> 16u] * vec4<f32>(in.position, 1.0);
    var out: Seen;
    out.clip = view.clip_from_chamber * place;
    out.chamber = place.xyz;
    let screen = in.kind >> 8u & 255u;
    if (screen > 0u && (view.hidden_screens.x >> ((screen - 1u) & 31u) & 1u) != 0u) {
        out.clip = vec4<f32>(0.0, 0.0, -1.0, 1.0);
    }
    out.sign = PLAIN;
    out.kind = in.kind;
    if ((in.kind & 2u) != 0u) {
        let bits = paint[in.what];
        out.colour = vec4<f32>(unpacked(bits).rgb, 1.0);
        out.sign = bits >> 24u;
    } else {
        out.colour = unpacked(in.what);
    }
    return out;
}

// A line: its two ends, each like a corner.
struct Ends {
    @location(0) position: vec3<f32>,
    @location(1) what: u32,
    @location(2) kind: u32,
    @location(3) other: vec3<f32>,
};

// Lines are ribbons of two triangles that face the eye: what a device makes of its own lines differs from one to the
// next, and they are one pixel wide at any scale.
@vertex
fn ribbon(in: Ends, @builtin(vertex_index) number: u32) -> Seen {
    let place = places[in.kind >> 16u];
    var ends = array<vec4<f32>, 2>(
        place * vec4<f32>(in.position, 1.0),
        place * vec4<f32>(in.other, 1.0),
    );
    var first = view.clip_from_chamber * ends[0];
    var second = view.clip_from_chamber * ends[1];
    // what is behind the eye ends a little before it
    let least = 1e-4;
    if (first.w < least && second.w > least) {
        first = mix(second, first, (second.w - least) / (second.w - first.w));
    } else if (second.w < least && first.w > least) {
        second = mix(first, second, (first.w - least) / (first.w - second.w));
    }
    let pixels = 0.5 * view.screen.xy;
    let along = (second.xy / second.w - first.xy / first.w) * pixels;
    var across = vec2<f32>(0.0, 0.0);
    if (dot(along, along) > 0.0) {
        across = normalize(vec2<f32>(-along.y, along.x)) * view.screen.z / pixels;
    }
    // 0 1 2, 2 1 3: the ends with their two sides
    var corners = array<u32, 6>(0u, 1u, 2u, 2u, 1u, 3u);
    let corner = corners[number];
    let at_end = corner >> 1u;
    let side = f32(corner & 1u) * 2.0 - 1.0;
    var out: Seen;
    out.clip = select(first, second, at_end == 1u);
    out.clip.x += side * across.x * out.clip.w;
    out.clip.y += side * across.y * out.clip.w;
    if ((in.kind & 1u) != 0u) {
        out.clip.z -= 6e-6 * out.clip.w;
    }
    if (first.w < least && second.w < least) {
        out.clip = vec4<f32>(0.0, 0.0, -1.0, 1.0);
    }
    out.chamber = ends[at_end].xyz;
    out.sign = PLAIN;
    out.kind = in.kind;
    out.colour = unpacked(in.what);
    return out;
}

fn is_cut(chamber: vec3<f32>) -> bool {
    return dot(view.cut.xyz, chamber) > view.cut.w && dot(view.cut.xyz, view.cut.xyz) > 0.0;
}

// Share of a stripe at a pixel, stripes `period` apart and `share` of it wide.
fn stripe(along: f32, period: f32, share: f32) -> f32 {
    let at = abs(fract(along / period) - 0.5) * period;
    return clamp(0.5 * share * period - at + 0.5, 0.0, 1.0);
}

@fragment
fn solid(in: Seen, @builtin(front_facing) front: bool) -> @location(0) vec4<f32> {
    let one_side = in.kind & 12u;
    if (is_cut(in.chamber) || (one_side == 4u && !front) || (one_side == 8u && front)) {
        discard;
    }
    let across = cross(dpdx(in.chamber), dpdy(in.chamber));
    let size = length(across);
    let toward = normalize(view.eye.xyz - in.chamber);
    var facing = 1.0;
    if (size > 0.0) {
        facing = abs(dot(across / size, toward));
    }
    var colour = in.colour.rgb;
    if ((in.kind & 2u) != 0u && one_side == 0u && !front) {
        // the side of a part that does not count
        colour = vec3<f32>(0.839, 0.816, 0.776);
    } else if (in.sign == BARE) {
        let line = stripe(in.clip.x + in.clip.y, 11.0, 0.42);
        colour = mix(vec3<f32>(0.965, 0.957, 0.941), vec3<f32>(0.157, 0.141, 0.157), line);
    } else if (in.sign == THIN) {
        let line = stripe(in.clip.x - in.clip.y, 7.0, 0.17);
        let dark = dot(colour, vec3<f32>(0.299, 0.587, 0.114)) > 0.5;
        colour = mix(colour, select(vec3<f32>(1.0), vec3<f32>(0.0), dark), 0.75 * line);
    }
    return vec4<f32>(colour * (0.62 + 0.38 * facing) * in.colour.a, in.colour.a);
}

@fragment
fn flat_line(in: Seen) -> @location(0) vec4<f32> {
    if (is_cut(in.chamber)) {
        discard;
    }
    return vec4<f32>(in.colour.rgb * in.colour.a, in.colour.a);
}
