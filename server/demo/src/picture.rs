//! Invented photos: drawn sheet metal, a seam, spot welds, bolts. No real vehicle is shown.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::{Rgb, RgbImage};

use super::chance::Chance;

const WIDTH: u32 = 640;
const HEIGHT: u32 = 480;

/// A few pictures that many records share.
pub(super) fn pictures(chance: &mut Chance) -> Vec<Vec<u8>> {
    (0..6).filter_map(|n| jpeg(&draw(n, chance))).collect()
}

fn jpeg(picture: &RgbImage) -> Option<Vec<u8>> {
    let mut bytes = Cursor::new(Vec::new());
    picture.write_with_encoder(JpegEncoder::new_with_quality(&mut bytes, 72)).ok()?;
    Some(bytes.into_inner())
}

fn draw(n: u32, chance: &mut Chance) -> RgbImage {
    let tone = [(122, 128, 134), (150, 62, 50), (58, 84, 120), (104, 112, 96), (168, 168, 160), (84, 78, 74)];
    let (r, g, b) = tone[n as usize % tone.len()];
    let mut picture = RgbImage::from_fn(WIDTH, HEIGHT, |x, y| {
        let light = i64::from(y) * 50 / i64::from(HEIGHT) - 25 + chance.between(-4, 4);
        let fold = if x > WIDTH / 2 + y / 6 { -18 } else { 0 };
        shade(r, g, b, light + fold)
    });
    let height = chance.between(180, 300) as f32;
    let bend = chance.between(20, 60) as f32;
    let seam = move |x: u32| height + bend * (x as f32 / WIDTH as f32 * std::f32::consts::PI).sin();
    for x in 20..WIDTH - 20 {
        let middle = seam(x) as i64;
        for y in middle - 9..middle + 9 {
            let colour = if (y - middle).abs() < 5 { (206, 202, 184) } else { (40, 40, 42) };
            dot(&mut picture, i64::from(x), y, colour);
        }
    }
    for weld in 0..14 {
        let x = 40 + weld * 42;
        disc(&mut picture, x, seam(x as u32) as i64 - 46, 8, (46, 44, 44));
        disc(&mut picture, x, seam(x as u32) as i64 - 46, 4, (170, 150, 110));
    }
    for bolt in 0..i64::from(n % 3 + 1) {
        disc(&mut picture, 120 + bolt * 170, 400, 24, (70, 70, 74));
        disc(&mut picture, 120 + bolt * 170, 400, 13, (150, 152, 156));
    }
    picture
}

fn shade(r: i64, g: i64, b: i64, by: i64) -> Rgb<u8> {
    Rgb([r, g, b].map(|c| (c + by).clamp(0, 255) as u8))
}

fn dot(picture: &mut RgbImage, x: i64, y: i64, (r, g, b): (u8, u8, u8)) {
    if (0..i64::from(WIDTH)).contains(&x) && (0..i64::from(HEIGHT)).contains(&y) {
        picture.put_pixel(x as u32, y as u32, Rgb([r, g, b]));
    }
}

fn disc(picture: &mut RgbImage, x: i64, y: i64, radius: i64, colour: (u8, u8, u8)) {
    for dx in -radius..=radius {
        for dy in -radius..=radius {
            if dx * dx + dy * dy <= radius * radius {
                dot(picture, x + dx, y + dy, colour);
            }
        }
    }
}
