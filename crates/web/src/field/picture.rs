//! The text of a code out of a photo, whatever the photo holds: its size is known before it is unpacked, and the work is counted,
//! so that no picture takes long or much memory. What breaks inside a library is no more than a picture without a code.

use std::cell::Cell;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::rc::Rc;

use image::{
    DynamicImage, GenericImage, GenericImageView, GrayImage, ImageDecoder as _, ImageFormat, ImageReader,
    Limits, Luma,
};

/// The largest file of a photo: what a phone's camera writes at its finest, with room.
pub(super) const MOST_BYTES: usize = 16 << 20;
/// The most pixels: 50 million, the finest that phones write by default.
const MOST_PIXELS: u64 = 50_000_000;
/// Memory for unpacking: four bytes a pixel.
const MOST_MEMORY_BYTES: u64 = 4 * MOST_PIXELS;
/// Passes over a progressive JPEG: cameras make about ten, and each costs as much as a whole picture.
const MOST_PASSES: usize = 40;
/// Longer sides at which a code is looked for: first the quick one, then one for codes that are small in the picture.
const SIDES: [u32; 2] = [800, 1600];
/// Pixels that a search may touch: a photo takes a few millions, one made to be slow as many as it is let.
const MOST_TOUCHES: u64 = 150_000_000;

/// Why a photo gives no text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoCode {
    /// More bytes or pixels than are taken.
    TooLarge,
    /// No picture of a kind that is read.
    NoPicture,
    /// A picture without a code that can be read.
    NoneFound,
}

impl NoCode {
    /// All, with their words in addresses; the texts' keys end in the same.
    const WORDS: [(Self, &'static str); 3] =
        [(Self::TooLarge, "large"), (Self::NoPicture, "no-picture"), (Self::NoneFound, "none")];

    pub(super) fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(one, _)| *one == self).map_or("none", |(_, word)| word)
    }

    pub(super) fn of_word(word: &str) -> Option<Self> {
        Self::WORDS.iter().find(|(_, found)| *found == word).map(|(one, _)| *one)
    }
}

/// The texts of the codes in a photo, most likely one.
///
/// # Errors
/// Too large, no picture, or no code in it.
pub(super) fn read(bytes: &[u8]) -> Result<Vec<String>, NoCode> {
    let picture = unpacked(bytes)?;
    for side in SIDES {
        let texts = found_in(&reduced(&picture, side));
        if !texts.is_empty() {
            return Ok(texts);
        }
        if picture.width().max(picture.height()) <= side {
            break;
        }
    }
    Err(NoCode::NoneFound)
}

/// The picture in grey. Width and height are read first, and refused before a pixel is unpacked.
fn unpacked(bytes: &[u8]) -> Result<GrayImage, NoCode> {
    if bytes.len() > MOST_BYTES {
        return Err(NoCode::TooLarge);
    }
    let format = image::guess_format(bytes).map_err(|_unknown| NoCode::NoPicture)?;
    if !matches!(format, ImageFormat::Jpeg | ImageFormat::Png) {
        return Err(NoCode::NoPicture);
    }
    // In what a JPEG packs, a byte of ones is followed by zero: these two bytes stand only where a pass begins.
    let n_passes = bytes.windows(2).filter(|pair| *pair == [0xff, 0xda]).count();
    if format == ImageFormat::Jpeg && n_passes > MOST_PASSES {
        return Err(NoCode::NoPicture);
    }
    let unpacked = catch_unwind(|| {
        let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
        let mut limits = Limits::default();
        limits.max_alloc = Some(MOST_MEMORY_BYTES);
        reader.limits(limits);
        let mut decoder = reader.into_decoder().map_err(|_broken| NoCode::NoPicture)?;
        let (width, height) = decoder.dimensions();
        if u64::from(width) * u64::from(height) > MOST_PIXELS {
            return Err(NoCode::TooLarge);
        }
        // Sixteen bits a channel would take more memory than was set aside for these pixels.
        if decoder.total_bytes() > MOST_MEMORY_BYTES {
            return Err(NoCode::TooLarge);
        }
        let mut left = Limits::default();
        left.max_alloc = Some(MOST_MEMORY_BYTES);
        decoder.set_limits(left).map_err(|_limit| NoCode::TooLarge)?;
        DynamicImage::from_decoder(decoder).map(DynamicImage::into_luma8).map_err(|_broken| NoCode::NoPicture)
    });
    unpacked.unwrap_or(Err(NoCode::NoPicture))
}

/// The picture with at most `side` pixels along its longer side, each the mean of a square: half a photo's noise is gone with it.
fn reduced(picture: &GrayImage, side: u32) -> GrayImage {
    let by = picture.width().max(picture.height()).div_ceil(side).max(1);
    if by == 1 {
        return picture.clone();
    }
    let (width, height) = (picture.width() / by, picture.height() / by);
    GrayImage::from_fn(width.max(1), height.max(1), |x, y| {
        let (mut sum, mut n) = (0_u32, 0_u32);
        for row in (y * by)..((y + 1) * by).min(picture.height()) {
            for column in (x * by)..((x + 1) * by).min(picture.width()) {
                sum += u32::from(picture.get_pixel(column, row).0[0]);
                n += 1;
            }
        }
        Luma([u8::try_from(sum / n.max(1)).unwrap_or(u8::MAX)])
    })
}

/// The texts of the codes in a picture, in the order in which they were found.
fn found_in(picture: &GrayImage) -> Vec<String> {
    let counted = Counted { pixels: picture.clone(), left: Rc::new(Cell::new(MOST_TOUCHES)) };
    // What a search may not finish, or trips over, found nothing.
    catch_unwind(AssertUnwindSafe(|| {
        let mut prepared = rqrr::PreparedImage::prepare(counted);
        let grids = prepared.detect_grids();
        grids.iter().filter_map(|grid| grid.decode().ok()).map(|(_, text)| text).collect()
    }))
    .unwrap_or_default()
}

/// A picture that counts how often its pixels are touched, its copies' with them, and stops whoever touches too many.
struct Counted {
    pixels: GrayImage,
    left: Rc<Cell<u64>>,
}

/// What the search is ended with.
struct TooManyTouches;

impl Counted {
    fn touch(&self, n: u64) {
        match self.left.get().checked_sub(n) {
            Some(left) => self.left.set(left),
            None => resume_unwind(Box::new(TooManyTouches)),
        }
    }
}

impl Clone for Counted {
    fn clone(&self) -> Self {
        self.touch(self.pixels.as_raw().len() as u64);
        Self { pixels: self.pixels.clone(), left: self.left.clone() }
    }
}

impl GenericImageView for Counted {
    type Pixel = Luma<u8>;

    fn dimensions(&self) -> (u32, u32) {
        self.pixels.dimensions()
    }

    fn get_pixel(&self, x: u32, y: u32) -> Luma<u8> {
        self.touch(1);
        *self.pixels.get_pixel(x, y)
    }
}

impl GenericImage for Counted {
    fn get_pixel_mut(&mut self, x: u32, y: u32) -> &mut Luma<u8> {
        self.touch(1);
        self.pixels.get_pixel_mut(x, y)
    }

    fn put_pixel(&mut self, x: u32, y: u32, pixel: Luma<u8>) {
        self.touch(1);
        self.pixels.put_pixel(x, y, pixel);
    }

    fn blend_pixel(&mut self, x: u32, y: u32, pixel: Luma<u8>) {
        self.put_pixel(x, y, pixel);
    }
}
