//! Labels as a phone's camera sees them: turned, lit from one side, grainy, and packed as JPEG.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "pixels and grey levels are small"
)]

use std::io::Cursor;

use image::{DynamicImage, GrayImage, ImageFormat, Luma};
use qrcode::{Color, EcLevel, QrCode};

/// The modules of a code with a white border of four.
pub(crate) fn modules(text: &str) -> Vec<Vec<bool>> {
    let code = QrCode::with_error_correction_level(text, EcLevel::Q).unwrap();
    let (colours, side) = (code.to_colors(), code.width());
    let dark = |x: usize, y: usize| {
        (4..side + 4).contains(&x)
            && (4..side + 4).contains(&y)
            && colours[(y - 4) * side + x - 4] == Color::Dark
    };
    (0..side + 8).map(|y| (0..side + 8).map(|x| dark(x, y)).collect()).collect()
}

/// Modules as pixels, `by` to a side.
pub(crate) fn drawn(modules: &[Vec<bool>], by: u32) -> GrayImage {
    let side = u32::try_from(modules.len()).unwrap() * by;
    let is_dark = |x: u32, y: u32| modules[(y / by) as usize][(x / by) as usize];
    GrayImage::from_fn(side, side, |x, y| Luma([if is_dark(x, y) { 0 } else { 255 }]))
}

/// How a photo was taken.
#[derive(Clone, Copy)]
pub(crate) struct Shot {
    pub(crate) width: u32,
    pub(crate) height: u32,
    /// The label's side as a part of the photo's shorter side.
    pub(crate) part: f64,
    pub(crate) turned_degrees: f64,
    /// How much narrower the far side of the label looks.
    pub(crate) tilted: f64,
}

impl Shot {
    pub(crate) const USUAL: Self =
        Self { width: 1200, height: 1600, part: 0.6, turned_degrees: 9.0, tilted: 0.08 };

    /// The photo, as grey pixels: a label on wood, in light from the left.
    pub(crate) fn of(&self, text: &str) -> GrayImage {
        let modules = modules(text);
        let n = modules.len() as f64;
        let side = self.part * f64::from(self.width.min(self.height));
        let angle = self.turned_degrees.to_radians();
        let (sine, cosine) = (libm::sin(angle), libm::cos(angle));
        let mut grain = 20_261_126_u32;
        GrayImage::from_fn(self.width, self.height, |x, y| {
            let (dx, dy) =
                (f64::from(x) - f64::from(self.width) / 2.0, f64::from(y) - f64::from(self.height) / 2.0);
            let (u, v) = (dx * cosine + dy * sine, dy * cosine - dx * sine);
            let near = 1.0 - self.tilted * v / side;
            let (column, row) = ((u / (side * near) + 0.5) * n, (v / side + 0.5) * n);
            let is_on = (0.0..n).contains(&column) && (0.0..n).contains(&row);
            let paper = if !is_on {
                130.0 + 20.0 * libm::sin(f64::from(x) / 37.0)
            } else if modules[row as usize][column as usize] {
                30.0
            } else {
                235.0
            };
            grain = grain.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = f64::from(grain >> 24) / 255.0 * 24.0 - 12.0;
            let light = 1.0 - 0.35 * f64::from(x) / f64::from(self.width);
            Luma([(paper * light + noise).clamp(0.0, 255.0) as u8])
        })
    }

    pub(crate) fn jpeg(&self, text: &str) -> Vec<u8> {
        packed(&DynamicImage::ImageLuma8(self.of(text)).to_rgb8().into(), ImageFormat::Jpeg)
    }
}

pub(crate) fn packed(picture: &DynamicImage, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    picture.write_to(&mut bytes, format).unwrap();
    bytes.into_inner()
}

/// A label as a picture file without any fault.
pub(crate) fn png(text: &str) -> Vec<u8> {
    packed(&drawn(&modules(text), 8).into(), ImageFormat::Png)
}

/// What the second library reads: the codes of a clean picture, one after the other.
pub(crate) fn read(picture: &GrayImage) -> Vec<String> {
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    let grey = |x: usize, y: usize| picture.get_pixel(x as u32, y as u32).0[0];
    let mut prepared = rqrr::PreparedImage::prepare_from_greyscale(width, height, grey);
    prepared.detect_grids().iter().map(|grid| grid.decode().unwrap().1).collect()
}
