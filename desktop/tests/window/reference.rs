//! Pictures small enough to be kept with the sources: shrunk, in few colours, and compared with what was kept.
//!
//! They are written anew with `OFFSHED_PICTURES=write cargo test -p offshed --test app_pictures`.

use std::fs;
use std::path::{Path, PathBuf};

use slint::{Rgba8Pixel, SharedPixelBuffer};

/// How many dots of the screen one dot of a kept picture stands for, each way.
const SHRUNK: usize = 3;
/// Levels of each colour that are tried, until a palette of 256 holds them all.
const LEVELS: [u8; 3] = [16, 8, 6];
/// A dot differs when any of its colours does by more than this, of 255: more than the fewest levels lose.
const APART: u8 = 48;
/// Dots that may differ, of a thousand: a word more or less is seen, a rounding of the letters' edges is not.
const PER_THOUSAND: usize = 1;

/// Colours of a picture, row by row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    pub width: usize,
    pub dots: Vec<[u8; 3]>,
}

/// What a window shows, in full.
pub fn whole(pixels: &SharedPixelBuffer<Rgba8Pixel>) -> Picture {
    let dots = pixels.as_slice().iter().map(|p| [p.r, p.g, p.b]).collect();
    Picture { width: pixels.width() as usize, dots }
}

impl Picture {
    fn height(&self) -> usize {
        self.dots.len() / self.width
    }

    /// Each dot the mean of a square of `by` times `by`; what is left over right and below is left out.
    pub fn shrunk(&self, by: usize) -> Picture {
        let (width, height) = (self.width / by, self.height() / by);
        let mean = |n: usize| {
            let (left, top) = (n % width * by, n / width * by);
            let square = (0..by * by).map(|k| self.dots[(top + k / by) * self.width + left + k % by]);
            let sum = square.fold([0_usize; 3], |sum, dot| [0, 1, 2].map(|c| sum[c] + usize::from(dot[c])));
            sum.map(|all| u8::try_from(all / (by * by)).expect("a mean of bytes"))
        };
        Picture { width, dots: (0..width * height).map(mean).collect() }
    }

    fn levelled(&self, levels: u8) -> Picture {
        let step = 255.0 / f64::from(levels - 1);
        let near = |c: u8| ((f64::from(c) / step).round() * step).round() as u8;
        Picture { width: self.width, dots: self.dots.iter().map(|dot| dot.map(near)).collect() }
    }

    fn palette(&self) -> Vec<[u8; 3]> {
        let mut colours = self.dots.clone();
        colours.sort_unstable();
        colours.dedup();
        colours
    }

    /// In as many colours as a palette holds.
    fn in_few(&self) -> Picture {
        let mut tried = LEVELS.iter().map(|levels| self.levelled(*levels));
        tried.find(|picture| picture.palette().len() <= 256).expect("six levels make 216 colours")
    }

    /// Writes it with a palette.
    pub fn write(&self, path: &Path) {
        let few = self.in_few();
        let colours = few.palette();
        let index = |dot: &[u8; 3]| u8::try_from(colours.binary_search(dot).expect("its colour")).expect("of 256");
        fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        let file = fs::File::create(path).expect("a file");
        let (width, height) = (few.width as u32, few.height() as u32);
        let mut png = png::Encoder::new(file, width, height);
        png.set_color(png::ColorType::Indexed);
        png.set_depth(png::BitDepth::Eight);
        png.set_palette(colours.concat());
        png.set_compression(png::Compression::High);
        let mut writer = png.write_header().expect("a head");
        let bytes: Vec<u8> = few.dots.iter().map(index).collect();
        writer.write_image_data(&bytes).expect("an image");
    }

    /// Reads one that was written so.
    pub fn read(path: &Path) -> Option<Picture> {
        let mut decoder = png::Decoder::new(std::io::BufReader::new(fs::File::open(path).ok()?));
        decoder.set_transformations(png::Transformations::EXPAND);
        let mut reader = decoder.read_info().ok()?;
        let mut bytes = vec![0; reader.output_buffer_size()?];
        let info = reader.next_frame(&mut bytes).ok()?;
        let dots = bytes.chunks_exact(3).map(|dot| [dot[0], dot[1], dot[2]]).collect();
        (info.color_type == png::ColorType::Rgb).then_some(Picture { width: info.width as usize, dots })
    }

    /// How many dots differ; `None`: the sizes do.
    pub fn differing(&self, other: &Picture) -> Option<usize> {
        let apart = |(a, b): &(&[u8; 3], &[u8; 3])| a.iter().zip(*b).any(|(a, b)| a.abs_diff(*b) > APART);
        let same_size = (self.width, self.dots.len()) == (other.width, other.dots.len());
        same_size.then(|| self.dots.iter().zip(&other.dots).filter(apart).count())
    }
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/pictures")
}

/// Compares what a window shows with the picture of that name that is kept, or keeps it; what is wrong, if anything.
///
/// Where there is no folder of pictures nothing is kept yet, and nothing is compared; where there is one, each is wanted.
pub fn held(name: &str, pixels: &SharedPixelBuffer<Rgba8Pixel>) -> Option<String> {
    let now = whole(pixels).shrunk(SHRUNK);
    let path = folder().join(format!("{name}.png"));
    if std::env::var("OFFSHED_PICTURES").is_ok_and(|what| what == "write") {
        now.write(&path);
        return None;
    }
    if !folder().exists() {
        return None;
    }
    let Some(before) = Picture::read(&path) else {
        return Some(format!("{name}: there is no {}", path.display()));
    };
    let all = now.dots.len();
    match now.differing(&before) {
        None => Some(format!("{name}: another size than it was")),
        Some(differing) if differing * 1_000 > all * PER_THOUSAND => {
            Some(format!("{name}: {differing} of {all} dots differ from {}", path.display()))
        }
        Some(_) => None,
    }
}
