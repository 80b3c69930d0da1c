//! What a disk may hold after the power went: images of one file at one moment.

use crate::world::Moment;

/// A small seeded generator (SplitMix64; Steele, Lea and Flood, "Fast splittable pseudorandom number
/// generators", 2014).
#[derive(Debug, Clone)]
pub(crate) struct Chance(u64);

impl Chance {
    pub(crate) fn new(seed: u64) -> Self {
        Chance(seed)
    }

    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    pub(crate) fn below(&mut self, limit: usize) -> usize {
        (self.next() % limit.max(1) as u64) as usize
    }
}

#[derive(Clone, Copy)]
enum Fill {
    New,
    Zero,
    Garbage,
    Stale,
    Flipped,
}

const FILLS: [Fill; 5] = [Fill::New, Fill::Zero, Fill::Garbage, Fill::Stale, Fill::Flipped];

/// Every image in which the unsynced bytes simply stop: one for each byte.
pub(crate) fn prefixes(moment: &Moment) -> impl Iterator<Item = Vec<u8>> + '_ {
    let file = &moment.file;
    (file.durable.len()..=file.now.len()).map(|length| file.now[..length].to_vec())
}

/// Images in which the unsynced part arrived in pieces: any subset while there are few, else a sample.
pub(crate) fn pieced(moment: &Moment, chance: &mut Chance, samples: usize) -> Vec<Vec<u8>> {
    let mut images = Vec::new();
    for piece in [4096, 512, 64] {
        let reach = moment.file.now.len().max(moment.file.stale.len());
        let from = moment.file.durable.len();
        if reach == from {
            continue;
        }
        let count = reach.div_ceil(piece) - from / piece;
        let all = 3_usize.checked_pow(count as u32).filter(|&all| all <= samples);
        for choice in 0..all.unwrap_or(samples) {
            let mut digits = choice;
            let fills: Vec<Fill> = (0..count)
                .map(|_| {
                    let fill =
                        if all.is_some() { FILLS[digits % 3] } else { FILLS[chance.below(FILLS.len())] };
                    digits /= 3;
                    fill
                })
                .collect();
            images.push(image(moment, piece, &fills, chance));
        }
    }
    images
}

fn image(moment: &Moment, piece: usize, fills: &[Fill], chance: &mut Chance) -> Vec<u8> {
    let file = &moment.file;
    let from = file.durable.len();
    let reach = file.now.len().max(file.stale.len());
    let mut image = file.durable.clone();
    image.resize(reach, 0);
    for (k, fill) in fills.iter().enumerate() {
        let start = ((from / piece + k) * piece).max(from);
        let end = ((from / piece + k + 1) * piece).min(reach);
        let flip = start + chance.below(end - start);
        for (at, byte) in image.iter_mut().enumerate().take(end).skip(start) {
            let new = file.now.get(at).copied().unwrap_or(0);
            *byte = match fill {
                Fill::New => new,
                Fill::Zero => 0,
                Fill::Garbage => chance.next() as u8,
                Fill::Stale => file.stale.get(at).copied().unwrap_or(0),
                Fill::Flipped => new ^ if at == flip { 1 << chance.below(8) } else { 0 },
            };
        }
    }
    // The length reaches the disk on its own: as it is, at a piece's edge, or anywhere.
    let length = match chance.below(4) {
        0 => from + chance.below(reach - from + 1),
        1 => ((from / piece + 1 + chance.below(fills.len())) * piece).min(reach),
        2 => file.now.len(),
        _ => reach,
    };
    image.truncate(length.max(from));
    image
}
