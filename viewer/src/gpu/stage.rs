//! Draws the stage into a texture of its own.
//!
//! In: solids and lines ([`Solids`]), colours per facet, a view. Out: a picture; the same for window, figures and
//! tests.

use super::{FORMAT, Gpu};
use crate::stage::solids::{Corner, Solids};
use bytemuck::{Pod, Zeroable};
use glam::{DAffine3, DMat4, DVec3, Mat4, Vec4};
use wgpu::util::DeviceExt;

/// Samples per pixel.
const SAMPLES: u32 = 4;
const DEPTH: wgpu::TextureFormat = wgpu::TextureFormat::Depth32Float;

/// How the stage is looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct View {
    /// clip_from_chamber.
    pub clip_from_chamber: DMat4,
    /// Where things are at the playhead, in the order of [`Solids`]: chamber_from_… each.
    pub places: Vec<DAffine3>,
    /// Where the eye is, m.
    pub eye_m: DVec3,
    /// Cuts away what is in front of this plane: normal, and its height along it, m.
    pub cut: Option<(DVec3, f64)>,
    /// A bit for each screen ([`Solids::screens`]) that is not drawn.
    pub hidden_screens: u32,
    /// Width of lines, pixels.
    pub line_width: f32,
    /// Background, RGB.
    pub background: [u8; 3],
}

const CORNER: [wgpu::VertexAttribute; 3] =
    wgpu::vertex_attr_array![0 => Float32x3, 1 => Uint32, 2 => Uint32];
/// The first end, and the place of the second, which lies behind it.
const ENDS: [wgpu::VertexAttribute; 4] =
    wgpu::vertex_attr_array![0 => Float32x3, 1 => Uint32, 2 => Uint32, 3 => Float32x3];

/// What the shader wants to know of the picture.
#[expect(clippy::cast_precision_loss, reason = "pixels of a picture")]
fn screen([width, height]: [u32; 2], line_width: f32) -> Vec4 {
    Vec4::new(width as f32, height as f32, 0.5 * line_width, 0.0)
}

#[derive(Clone, Copy, Pod, Zeroable)]
#[repr(C)]
struct Uniform {
    clip_from_chamber: Mat4,
    eye: Vec4,
    cut: Vec4,
    hidden_screens: [u32; 4],
    screen: Vec4,
}

/// What is drawn, on the device.
struct Loaded {
    corners: wgpu::Buffer,
    group: wgpu::BindGroup,
    paint: wgpu::Buffer,
    places: wgpu::Buffer,
    /// Corners of solid facets, of veiled ones, of lines.
    counts: [u32; 3],
}

struct Target {
    picture: wgpu::Texture,
    rough: wgpu::TextureView,
    depth: wgpu::TextureView,
}

/// Draws stages.
pub struct Painter {
    layout: wgpu::BindGroupLayout,
    uniform: wgpu::Buffer,
    solid: wgpu::RenderPipeline,
    veiled: wgpu::RenderPipeline,
    lines: wgpu::RenderPipeline,
    loaded: Option<Loaded>,
    target: Option<Target>,
}

impl Painter {
    /// Prepares drawing on a device.
    pub fn new(gpu: &Gpu) -> Self {
        let device = &gpu.device;
        let module = device.create_shader_module(wgpu::ShaderModuleDescriptor {
            label: Some("stage"),
            source: wgpu::ShaderSource::Wgsl(include_str!("../../../shaders/stage.wgsl").into()),
        });
        let entry = |binding, visibility, ty| wgpu::BindGroupLayoutEntry {
            binding,
            visibility,
            ty: wgpu::BindingType::Buffer {
                ty,
                has_dynamic_offset: false,
                min_binding_size: None,
            },
            count: None,
        };
        let layout = device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
            label: Some("stage"),
            entries: &[
                entry(
                    0,
                    wgpu::ShaderStages::VERTEX_FRAGMENT,
                    wgpu::BufferBindingType::Uniform,
                ),
                entry(
                    1,
                    wgpu::ShaderStages::VERTEX,
                    wgpu::BufferBindingType::Storage { read_only: true },
                ),
                entry(
                    2,
                    wgpu::ShaderStages::VERTEX,
                    wgpu::BufferBindingType::Storage { read_only: true },
                ),
            ],
        });
        let uniform = device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("view"),
            size: size_of::<Uniform>() as u64,
            usage: wgpu::BufferUsages::UNIFORM | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        let pipeline = |how: How| pipeline(device, &module, &layout, how);
        Self {
            solid: pipeline(How::Solid),
            veiled: pipeline(How::Veiled),
            lines: pipeline(How::Lines),
            layout,
            uniform,
            loaded: None,
            target: None,
        }
    }

    /// Takes what is to be drawn from now on.
    pub fn load(&mut self, gpu: &Gpu, solids: &Solids, paint: &[u32]) {
        let corners = gpu
            .device
            .create_buffer_init(&wgpu::util::BufferInitDescriptor {
                label: Some("corners"),
                contents: bytemuck::cast_slice(&solids.corners()),
                usage: wgpu::BufferUsages::VERTEX,
            });
        let paint = gpu
            .device
            .create_buffer_init(&wgpu::util::BufferInitDescriptor {
                label: Some("paint"),
                contents: bytemuck::cast_slice(if paint.is_empty() { &[0] } else { paint }),
                usage: wgpu::BufferUsages::STORAGE | wgpu::BufferUsages::COPY_DST,
            });
        let places = gpu.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("places"),
            size: (solids.places * size_of::<Mat4>()) as u64,
            usage: wgpu::BufferUsages::STORAGE | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        let group = gpu.device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("stage"),
            layout: &self.layout,
            entries: &[
                wgpu::BindGroupEntry {
                    binding: 0,
                    resource: self.uniform.as_entire_binding(),
                },
                wgpu::BindGroupEntry {
                    binding: 1,
                    resource: paint.as_entire_binding(),
                },
                wgpu::BindGroupEntry {
                    binding: 2,
                    resource: places.as_entire_binding(),
                },
            ],
        });
        self.loaded = Some(Loaded {
            corners,
            group,
            paint,
            places,
            counts: solids.counts(),
        });
    }

    /// Paints the facets anew; there must be as many as before.
    pub fn repaint(&self, gpu: &Gpu, paint: &[u32]) {
        if let Some(loaded) = &self.loaded
            && loaded.paint.size() == size_of_val(paint) as u64
        {
            gpu.queue
                .write_buffer(&loaded.paint, 0, bytemuck::cast_slice(paint));
        }
    }

    /// Draws, and returns the picture; none before anything was loaded.
    pub fn draw(&mut self, gpu: &Gpu, view: &View, size: [u32; 2]) -> Option<&wgpu::Texture> {
        let size = size.map(|side| side.clamp(1, gpu.device.limits().max_texture_dimension_2d));
        let loaded = self.loaded.as_ref()?;
        let fits = |target: &Target| [target.picture.width(), target.picture.height()] == size;
        if !self.target.as_ref().is_some_and(fits) {
            self.target = Some(Target::new(gpu, size));
        }
        let target = self.target.as_ref()?;
        let uniform = Uniform {
            clip_from_chamber: view.clip_from_chamber.as_mat4(),
            eye: view.eye_m.as_vec3().extend(1.0),
            cut: view
                .cut
                .map_or(Vec4::ZERO, |(n, height)| n.extend(height).as_vec4()),
            hidden_screens: [view.hidden_screens, 0, 0, 0],
            screen: screen(size, view.line_width),
        };
        gpu.queue
            .write_buffer(&self.uniform, 0, bytemuck::bytes_of(&uniform));
        let places: Vec<Mat4> = view
            .places
            .iter()
            .map(|&place| DMat4::from(place).as_mat4())
            .collect();
        if size_of_val(&places[..]) as u64 == loaded.places.size() {
            gpu.queue
                .write_buffer(&loaded.places, 0, bytemuck::cast_slice(&places));
        }
        let [red, green, blue] = view.background.map(|byte| f64::from(byte) / 255.0);
        let mut encoder = gpu.device.create_command_encoder(&Default::default());
        let shown = target.picture.create_view(&Default::default());
        {
            let mut pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
                label: Some("stage"),
                color_attachments: &[Some(wgpu::RenderPassColorAttachment {
                    view: &target.rough,
                    resolve_target: Some(&shown),
                    ops: wgpu::Operations {
                        load: wgpu::LoadOp::Clear(wgpu::Color {
                            r: red,
                            g: green,
                            b: blue,
                            a: 1.0,
                        }),
                        store: wgpu::StoreOp::Discard,
                    },
                    depth_slice: None,
                })],
                depth_stencil_attachment: Some(wgpu::RenderPassDepthStencilAttachment {
                    view: &target.depth,
                    depth_ops: Some(wgpu::Operations {
                        load: wgpu::LoadOp::Clear(1.0),
                        store: wgpu::StoreOp::Discard,
                    }),
                    stencil_ops: None,
                }),
                ..Default::default()
            });
            pass.set_bind_group(0, &loaded.group, &[]);
            pass.set_vertex_buffer(0, loaded.corners.slice(..));
            let [solid, veiled, lines] = loaded.counts;
            pass.set_pipeline(&self.solid);
            pass.draw(0..solid, 0..1);
            pass.set_pipeline(&self.lines);
            let before = u64::from(solid + veiled) * size_of::<Corner>() as u64;
            if lines > 0 {
                pass.set_vertex_buffer(0, loaded.corners.slice(before..));
                pass.draw(0..6, 0..lines / 2);
                pass.set_vertex_buffer(0, loaded.corners.slice(..));
            }
            pass.set_pipeline(&self.veiled);
            pass.draw(solid..solid + veiled, 0..1);
        }
        gpu.queue.submit([encoder.finish()]);
        Some(&target.picture)
    }
}

impl Target {
    fn new(gpu: &Gpu, [width, height]: [u32; 2]) -> Self {
        let texture = |format, label| {
            let texture = gpu.device.create_texture(&wgpu::TextureDescriptor {
                label: Some(label),
                size: wgpu::Extent3d {
                    width,
                    height,
                    depth_or_array_layers: 1,
                },
                mip_level_count: 1,
                sample_count: SAMPLES,
                dimension: wgpu::TextureDimension::D2,
                format,
                usage: wgpu::TextureUsages::RENDER_ATTACHMENT,
                view_formats: &[],
            });
            texture.create_view(&Default::default())
        };
        Self {
            picture: gpu.target([width, height]),
            rough: texture(FORMAT, "samples"),
            depth: texture(DEPTH, "depth"),
        }
    }
}

/// How triangles or lines are drawn.
#[derive(Clone, Copy, PartialEq)]
enum How {
    Solid,
    /// Seen through.
    Veiled,
    Lines,
}

fn pipeline(
    device: &wgpu::Device,
    module: &wgpu::ShaderModule,
    layout: &wgpu::BindGroupLayout,
    how: How,
) -> wgpu::RenderPipeline {
    let layout = device.create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
        label: Some("stage"),
        bind_group_layouts: &[Some(layout)],
        immediate_size: 0,
    });
    device.create_render_pipeline(&wgpu::RenderPipelineDescriptor {
        label: Some("stage"),
        layout: Some(&layout),
        vertex: wgpu::VertexState {
            module,
            entry_point: Some(if how == How::Lines {
                "ribbon"
            } else {
                "corner"
            }),
            buffers: &[Some(if how == How::Lines {
                // a line is an instance: both of its ends
                wgpu::VertexBufferLayout {
                    array_stride: 2 * size_of::<Corner>() as u64,
                    step_mode: wgpu::VertexStepMode::Instance,
                    attributes: &ENDS,
                }
            } else {
                wgpu::VertexBufferLayout {
                    array_stride: size_of::<Corner>() as u64,
                    step_mode: wgpu::VertexStepMode::Vertex,
                    attributes: &CORNER,
                }
            })],
            compilation_options: Default::default(),
        },
        primitive: wgpu::PrimitiveState::default(),
        depth_stencil: Some(wgpu::DepthStencilState {
            format: DEPTH,
            depth_write_enabled: Some(how != How::Veiled),
            depth_compare: Some(wgpu::CompareFunction::LessEqual),
            stencil: Default::default(),
            bias: Default::default(),
        }),
        multisample: wgpu::MultisampleState {
            count: SAMPLES,
            ..Default::default()
        },
        fragment: Some(wgpu::FragmentState {
            module,
            entry_point: Some(if how == How::Lines {
                "flat_line"
            } else {
                "solid"
            }),
            targets: &[Some(wgpu::ColorTargetState {
                format: FORMAT,
                blend: Some(wgpu::BlendState::PREMULTIPLIED_ALPHA_BLENDING),
                write_mask: wgpu::ColorWrites::ALL,
            })],
            compilation_options: Default::default(),
        }),
        multiview_mask: None,
        cache: None,
    })
}
