//! The graphics device: found, opened, watched, read back.
//!
//! Everything here can be lost at any time and is made anew from what the CPU holds. The only place, with its
//! children, where f64 narrows to f32.

pub mod stage;

use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// Longest wait for the device, which may be a slow software one.
const PATIENCE: Duration = Duration::from_secs(30);

/// Format of all pictures that are not shown directly: bytes encoded as sRGB, which egui wants.
pub const FORMAT: wgpu::TextureFormat = wgpu::TextureFormat::Rgba8Unorm;

/// An open device.
pub struct Gpu {
    pub adapter: wgpu::Adapter,
    pub device: wgpu::Device,
    pub queue: wgpu::Queue,
    lost: Arc<AtomicBool>,
    /// What the device first complained of.
    complaint: Arc<Mutex<Option<String>>>,
}

/// A picture in memory: RGBA bytes, rows from the top.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    pub width: u32,
    pub height: u32,
    pub rgba: Vec<u8>,
}

impl Picture {
    /// Writes it as PNG.
    ///
    /// # Errors
    /// A sentence, if the file cannot be written.
    pub fn write(&self, file: &Path) -> Result<(), String> {
        let unwritten = |error: &dyn std::fmt::Display| {
            format!("{} cannot be written ({error})", file.display())
        };
        let out = std::fs::File::create(file).map_err(|error| unwritten(&error))?;
        let mut encoder = png::Encoder::new(out, self.width, self.height);
        encoder.set_color(png::ColorType::Rgba);
        encoder.set_depth(png::BitDepth::Eight);
        encoder
            .write_header()
            .and_then(|mut writer| writer.write_image_data(&self.rgba))
            .map_err(|error| unwritten(&error))
    }
}

/// The door to the graphics drivers.
pub fn instance(display: Option<Box<dyn wgpu::wgt::WgpuHasDisplayHandle>>) -> wgpu::Instance {
    wgpu::Instance::new(wgpu::InstanceDescriptor {
        backends: wgpu::Backends::from_env().unwrap_or(wgpu::Backends::PRIMARY),
        flags: wgpu::InstanceFlags::empty(),
        backend_options: wgpu::BackendOptions::from_env_or_default(),
        memory_budget_thresholds: wgpu::MemoryBudgetThresholds::default(),
        display,
    })
}

impl Gpu {
    /// Opens a device that can draw on a surface, or any.
    ///
    /// # Errors
    /// A sentence that says what is missing.
    pub fn open(
        instance: &wgpu::Instance,
        surface: Option<&wgpu::Surface<'_>>,
    ) -> Result<Self, String> {
        let wanted = wgpu::RequestAdapterOptions {
            power_preference: wgpu::PowerPreference::HighPerformance,
            compatible_surface: surface,
            force_fallback_adapter: false,
            apply_limit_buckets: false,
        };
        let adapter = pollster::block_on(instance.request_adapter(&wanted))
            .map_err(|_| "no usable graphics device was found".to_owned())?;
        let described = wgpu::DeviceDescriptor {
            label: Some("evenfall"),
            required_limits: wgpu::Limits::default().or_better_values_from(&adapter.limits()),
            ..Default::default()
        };
        let (device, queue) = pollster::block_on(adapter.request_device(&described))
            .map_err(|error| format!("the graphics device cannot be opened ({error})"))?;
        let lost = Arc::new(AtomicBool::new(false));
        let told = Arc::clone(&lost);
        device.set_device_lost_callback(move |_, _| told.store(true, Ordering::Relaxed));
        // The default handler panics; a lost device must not.
        let told = Arc::clone(&lost);
        let complaint = Arc::new(Mutex::new(None));
        let heard = Arc::clone(&complaint);
        device.on_uncaptured_error(Arc::new(move |error: wgpu::Error| {
            told.store(true, Ordering::Relaxed);
            // the first one, which the others follow from
            let mut heard = heard.lock().unwrap_or_else(|broken| broken.into_inner());
            heard.get_or_insert_with(|| error.to_string());
        }));
        Ok(Self {
            adapter,
            device,
            queue,
            lost,
            complaint,
        })
    }

    /// That the device was lost, and what it complained of before.
    pub fn loss(&self) -> String {
        let complaint = self.complaint.lock();
        match complaint
            .unwrap_or_else(|broken| broken.into_inner())
            .as_ref()
        {
            Some(complaint) => format!("the graphics device was lost ({complaint})"),
            None => "the graphics device was lost".to_owned(),
        }
    }

    /// True once the device is lost or has failed: it and all made with it must be made anew.
    pub fn is_lost(&self) -> bool {
        // a loss is told when the device is asked for news
        if self.device.poll(wgpu::PollType::Poll).is_err() {
            self.lost.store(true, Ordering::Relaxed);
        }
        self.lost.load(Ordering::Relaxed)
    }

    /// Counts the device as lost.
    pub fn lose(&self) {
        self.lost.store(true, Ordering::Relaxed);
    }

    /// A texture that can be drawn on, sampled and read back.
    pub fn target(&self, [width, height]: [u32; 2]) -> wgpu::Texture {
        self.device.create_texture(&wgpu::TextureDescriptor {
            label: Some("picture"),
            size: wgpu::Extent3d {
                width,
                height,
                depth_or_array_layers: 1,
            },
            mip_level_count: 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: FORMAT,
            usage: wgpu::TextureUsages::RENDER_ATTACHMENT
                | wgpu::TextureUsages::TEXTURE_BINDING
                | wgpu::TextureUsages::COPY_SRC,
            view_formats: &[],
        })
    }

    /// Reads a texture of [`Gpu::target`] back.
    ///
    /// # Errors
    /// A sentence, when the device is lost meanwhile.
    pub fn read(&self, texture: &wgpu::Texture) -> Result<Picture, String> {
        let failed = || "the graphics device was lost while a picture was read".to_owned();
        let (width, height) = (texture.width(), texture.height());
        let row = width * 4;
        let padded = row.next_multiple_of(wgpu::COPY_BYTES_PER_ROW_ALIGNMENT);
        let buffer = self.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("picture read back"),
            size: u64::from(padded) * u64::from(height),
            usage: wgpu::BufferUsages::MAP_READ | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        let mut encoder = self.device.create_command_encoder(&Default::default());
        encoder.copy_texture_to_buffer(
            texture.as_image_copy(),
            wgpu::TexelCopyBufferInfo {
                buffer: &buffer,
                layout: wgpu::TexelCopyBufferLayout {
                    offset: 0,
                    bytes_per_row: Some(padded),
                    rows_per_image: None,
                },
            },
            texture.size(),
        );
        let index = self.queue.submit([encoder.finish()]);
        let (tell, told) = std::sync::mpsc::channel();
        buffer
            .slice(..)
            .map_async(wgpu::MapMode::Read, move |done| {
                // Nobody is left to be told when the wait below gave up.
                let _ = tell.send(done);
            });
        let wait = wgpu::PollType::Wait {
            submission_index: Some(index),
            timeout: Some(PATIENCE),
        };
        self.device.poll(wait).map_err(|_| failed())?;
        told.recv().map_err(|_| failed())?.map_err(|_| failed())?;
        let mapped = buffer.slice(..).get_mapped_range().map_err(|_| failed())?;
        let rgba = mapped
            .chunks_exact(padded as usize)
            .flat_map(|line| &line[..row as usize])
            .copied()
            .collect();
        Ok(Picture {
            width,
            height,
            rgba,
        })
    }
}
