//! Photos of the reference sheet that nobody took: every absorbance in them is known.
//!
//! A pinhole camera looks at the sheet aslant, with its own curve, gains and noise; bottles are cylinders that let
//! through what the law of Bouguer, Beer and Lambert says (ISO 80000-7). Used by the tests of the engine and by the
//! bench. Never here: anything of the reading, but for where the sheet has its parts.

use image::codecs::jpeg::JpegEncoder;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use standpipe_engine::formula::homography::Homography;
use standpipe_engine::photo::sheet::{Layout, Mark, PAPER, Place, Stand, Step, steps};

/// What is wrong with a photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trouble {
    /// A lamp is mirrored in the bottle 'now'.
    Glare,
    /// Exposed so long that white is clipped.
    Clipped,
    /// Exposed much too short.
    Dark,
    /// The edge of a shadow runs down the sheet.
    Shadow,
    /// One lamp close to one side.
    OneSided,
    /// There is no sheet.
    NoSheet,
    /// The camera was moved.
    Blurred,
    /// Nothing stands at 'now'.
    Empty,
    /// The sheet is a small part of the picture.
    Far,
    /// Something stands before the white ground beside 'now'.
    Covered,
}

/// A scene; [`Scene::drawn`] makes one of a seed.
#[derive(Debug, Clone)]
pub struct Scene {
    /// Which sheet.
    pub layout: Layout,
    /// Absorbance of the fluid before, across the middle of a bottle.
    pub before: [f64; 3],
    /// Absorbance of fresh fluid.
    pub fresh: [f64; 3],
    /// Share of new fluid of what is marked 'now'.
    pub new_share: f64,
    /// Width and height of the picture in pixels.
    pub size: (u32, u32),
    /// Tilt about both axes, and turn in the plane of the picture, in degrees.
    pub turned: [f64; 3],
    /// Exponent of the camera's curve; 0 stands for that of sRGB.
    pub power: f64,
    /// Part of an S in the camera's curve, 0 to 1.
    pub bend: f64,
    /// Light of white, channel by channel, 1 for what the camera can just say.
    pub white: [f64; 3],
    /// By how much, as a logarithm, the light changes from left to right and from top to bottom.
    pub slope: (f64, f64),
    /// Electrons of full light in one pixel: noise falls with them.
    pub electrons: f64,
    /// JPEG quality.
    pub quality: u8,
    /// What is wrong with it.
    pub trouble: Option<Trouble>,
    /// Where chance starts.
    pub seed: u64,
}

/// Pairs of absorbances, red, green and blue: light and dark fluids, dyed and not (invented).
pub const PAIRS: [[[f64; 3]; 2]; 4] = [
    [[0.55, 0.95, 1.10], [0.08, 0.45, 0.40]],
    [[0.90, 1.25, 1.60], [0.10, 0.70, 0.65]],
    [[0.35, 0.60, 0.95], [0.04, 0.10, 0.30]],
    [[0.70, 1.05, 1.20], [0.20, 0.30, 0.55]],
];

/// Chance, the same for the same seed.
struct Chance(ChaCha8Rng);

impl Chance {
    #[allow(clippy::cast_precision_loss)]
    fn part(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, least: f64, greatest: f64) -> f64 {
        least + (greatest - least) * self.part()
    }

    /// Box and Muller 1958.
    fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.part()).ln()).sqrt() * (std::f64::consts::TAU * self.part()).cos()
    }
}

impl Scene {
    /// A scene as somebody might photograph it.
    pub fn drawn(layout: Layout, seed: u64) -> Self {
        let mut chance = Chance(ChaCha8Rng::seed_from_u64(seed));
        let [before, fresh] = PAIRS[(chance.part() * 4.0) as usize];
        let light = chance.between(0.45, 0.7);
        let power = [0.0, 1.8, 2.0, 2.2, 2.4][(chance.part() * 5.0) as usize];
        Self {
            layout,
            before,
            fresh,
            new_share: chance.part(),
            size: (1_280, 960),
            turned: [chance.between(-25.0, 25.0), chance.between(-20.0, 20.0), chance.between(-12.0, 12.0)],
            power,
            bend: chance.between(0.0, 0.35),
            white: [light, light * chance.between(0.75, 1.0), light * chance.between(0.6, 1.0)],
            slope: (chance.between(-0.3, 0.3), chance.between(-0.2, 0.2)),
            electrons: chance.between(3_000.0, 12_000.0),
            quality: 80 + (chance.part() * 16.0) as u8,
            trouble: None,
            seed,
        }
    }

    /// The photo as a JPEG file.
    pub fn jpeg(&self) -> Vec<u8> {
        let mut bytes = Vec::new();
        let pixels = self.pixels();
        let mut encoder = JpegEncoder::new_with_quality(&mut bytes, self.quality);
        encoder.encode(&pixels, self.size.0, self.size.1, image::ExtendedColorType::Rgb8).unwrap();
        bytes
    }

    /// From pixels to millimetres of the sheet.
    fn map(&self) -> Homography {
        let (width, height) = (f64::from(self.size.0), f64::from(self.size.1));
        let [about_x, about_y, turn] = self.turned.map(f64::to_radians);
        let far = 650.0;
        let part = if self.trouble == Some(Trouble::Far) { 0.2 } else { 0.78 };
        // At this focal length a sheet that stands straight takes that part of the width.
        let focal = far * part * width / PAPER.0;
        let corners = [(0.0, 0.0), (PAPER.0, 0.0), PAPER, (0.0, PAPER.1)];
        let seen = corners.map(|(x, y)| {
            let (x, y) = (x - PAPER.0 / 2.0, y - PAPER.1 / 2.0);
            let (x, y) = (x * turn.cos() - y * turn.sin(), x * turn.sin() + y * turn.cos());
            let (y, z) = (y * about_x.cos(), y * about_x.sin());
            let (x, z) = (x * about_y.cos() + z * about_y.sin(), z * about_y.cos() - x * about_y.sin());
            (width / 2.0 + focal * x / (far + z), height / 2.0 + focal * y / (far + z))
        });
        Homography::of(seen, corners).unwrap()
    }

    /// Red, green and blue of every pixel, row by row.
    pub fn pixels(&self) -> Vec<u8> {
        let mut chance = Chance(ChaCha8Rng::seed_from_u64(self.seed ^ 0x5EED));
        let paper = Paper::of(self, &mut chance);
        let noise: Vec<f32> = (0..65_536).map(|_| chance.normal() as f32).collect();
        let curve: Vec<f64> = (0..=8_192).map(|at| self.coded(f64::from(at) / 8_192.0)).collect();
        let veil = chance.between(0.0, 0.003);
        let map = self.map();
        let (width, height) = (self.size.0 as usize, self.size.1 as usize);
        let mut light = vec![[0.0_f32; 3]; width * height];
        for y in 0..height {
            for x in 0..width {
                light[y * width + x] =
                    paper.light(map.at((x as f64 + 0.5, y as f64 + 0.5))).map(|l| l as f32);
            }
        }
        if self.trouble == Some(Trouble::Blurred) {
            light = smeared(&light, width, (f64::from(self.size.0) * 0.78 / PAPER.0 * 7.0) as usize);
        }
        let mut pixels = Vec::with_capacity(width * height * 3);
        for colour in light {
            let random = chance.0.next_u64();
            for (channel, (light, white)) in colour.into_iter().zip(self.white).enumerate() {
                let light = f64::from(light) * white * self.exposure() + veil;
                let chance = f64::from(noise[(random >> (16 * channel)) as usize & 0xFFFF]);
                let sd = (light / self.electrons + 1e-6).sqrt();
                let seen = (light + chance * sd).clamp(0.0, 1.0);
                let value = curve[(seen * 8_192.0) as usize];
                pixels.push((value * 255.0).round() as u8);
            }
        }
        pixels
    }

    fn exposure(&self) -> f64 {
        match self.trouble {
            Some(Trouble::Clipped) => 3.0,
            Some(Trouble::Dark) => 0.06,
            _ => 1.0,
        }
    }

    fn coded(&self, light: f64) -> f64 {
        let value = if self.power > 0.0 {
            light.powf(1.0 / self.power)
        } else if light <= 0.003_130_8 {
            12.92 * light
        } else {
            1.055 * light.powf(1.0 / 2.4) - 0.055
        };
        (1.0 - self.bend) * value + self.bend * value * value * (3.0 - 2.0 * value)
    }
}

/// A way of the camera of so many pixels, to the right and a little down.
fn smeared(light: &[[f32; 3]], width: usize, by: usize) -> Vec<[f32; 3]> {
    let at = |place: usize| {
        let over = (0..by).map(|step| light[(place + step + step / 2 * width).min(light.len() - 1)]);
        let sum = over.fold([0.0; 3], |sum: [f32; 3], one| std::array::from_fn(|at| sum[at] + one[at]));
        sum.map(|sum| sum / by as f32)
    };
    (0..light.len()).map(at).collect()
}

/// What stands on the sheet and before it, with the errors of print and glass.
struct Paper<'a> {
    scene: &'a Scene,
    marks: [Mark; 4],
    steps: Vec<(Step, f64)>,
    places: Vec<(Place, [f64; 3])>,
}

impl<'a> Paper<'a> {
    fn of(scene: &'a Scene, chance: &mut Chance) -> Self {
        let steps: Vec<Step> = steps();
        // Both strips come from one printer: the same step errs alike on both.
        let errors: Vec<(f64, f64)> = steps[..steps.len() / 2]
            .iter()
            .map(|step| {
                let error = 0.03 * chance.normal() + 0.004 / step.reflectance * chance.normal();
                (step.reflectance, step.reflectance * error.exp())
            })
            .collect();
        let printed =
            |step: &Step| errors.iter().find(|(nominal, _)| *nominal == step.reflectance).unwrap().1;
        let places = scene.layout.places().into_iter().map(|place| {
            let share = match place.stands {
                Stand::Before => 0.0,
                Stand::Now => scene.new_share,
                Stand::Fresh => 1.0,
                // Mixed by a syringe; the end tubes are the fluids themselves.
                Stand::Tube(percent @ 1..=99) => f64::from(percent) / 100.0 + 0.02 * chance.normal(),
                Stand::Tube(percent) => f64::from(percent) / 100.0,
            };
            let wide = 1.0 + 0.015 * chance.normal();
            let absorbance =
                std::array::from_fn(|at| wide * (scene.before[at] * (1.0 - share) + scene.fresh[at] * share));
            (place, absorbance)
        });
        let places = places.collect();
        Self {
            scene,
            marks: scene.layout.marks(),
            steps: steps.iter().map(|step| (*step, printed(step))).collect(),
            places,
        }
    }

    fn light(&self, point: (f64, f64)) -> [f64; 3] {
        let (x, y) = point;
        let on_paper = (0.0..PAPER.0).contains(&x) && (0.0..PAPER.1).contains(&y);
        if !on_paper || self.scene.trouble == Some(Trouble::NoSheet) {
            // A bench with a grain.
            let grain = 0.05 * ((x * 0.7).sin() + (y * 1.3).cos());
            return [0.28 + grain, 0.24 + grain, 0.2 + grain];
        }
        let (across, down) = self.scene.slope;
        let across = if self.scene.trouble == Some(Trouble::OneSided) { 1.4 } else { across };
        let mut light = (across * (x / PAPER.0 - 0.5) + down * (y / PAPER.1 - 0.5)).exp();
        if self.scene.trouble == Some(Trouble::Shadow) && x + 0.2 * y > 175.0 {
            light *= 0.45;
        }
        let ground = self.printed(point);
        let through = self.through(point);
        let shine = if self.scene.trouble == Some(Trouble::Glare) { self.shine(point) } else { 0.0 };
        through.map(|through| (ground * through + shine) * light)
    }

    fn printed(&self, point: (f64, f64)) -> f64 {
        for mark in &self.marks {
            if mark.square().holds(point) {
                return if mark.hole().is_some_and(|hole| hole.holds(point)) { 1.0 } else { 0.045 };
            }
        }
        let step = self.steps.iter().find(|(step, _)| step.area.holds(point));
        step.map_or(1.0, |(_, reflectance)| *reflectance)
    }

    fn through(&self, (x, y): (f64, f64)) -> [f64; 3] {
        if y < 100.0 {
            return [1.0; 3];
        }
        for (place, absorbance) in &self.places {
            let aside = (x - place.centre).abs() / (place.width / 2.0 * 0.9);
            let empty = self.scene.trouble == Some(Trouble::Empty) && place.stands == Stand::Now;
            if self.scene.trouble == Some(Trouble::Covered) && place.stands == Stand::Now {
                let white = place.whites[1];
                if (x - white.left - white.width / 2.0).abs() < 5.0 {
                    return [0.3; 3];
                }
            }
            if aside >= 1.0 || empty {
                continue;
            }
            // The glass bends light away near its edges.
            let glass = if aside > 0.92 { 0.3 } else { 1.0 };
            let way = (1.0 - aside * aside).sqrt();
            return absorbance.map(|absorbance| glass * 10_f64.powf(-absorbance * way));
        }
        [1.0; 3]
    }

    fn shine(&self, (x, y): (f64, f64)) -> f64 {
        let now = self.places.iter().find(|(place, _)| place.stands == Stand::Now).unwrap().0;
        let window = now.window;
        let middle = (window.left + window.width / 2.0 + 1.0, window.top + window.height / 2.0);
        let off = ((x - middle.0) / (window.width / 4.0)).powi(2) + ((y - middle.1) / 7.0).powi(2);
        0.9 * (1.5 * (1.0 - off)).clamp(0.0, 1.0)
    }
}
