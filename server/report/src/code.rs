//! The check value as a QR code (ISO/IEC 18004), drawn from filled rectangles.
//!
//! It holds only what the foot says in words: job and check value. Called by the signatures.

use qrcode::{Color, EcLevel, QrCode};

use crate::error::ReportError;
use crate::paragraph::Ink;
use crate::strip::{Mark, Spot};

/// Side of one module in points, about half a millimetre.
pub(crate) const MODULE: f64 = 1.5;

/// The modules of a text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Code {
    side: usize,
    dark: Vec<bool>,
}

impl Code {
    /// The code of `text`.
    ///
    /// # Errors
    /// [`ReportError::Code`] if the text is too long for any code.
    pub(crate) fn of(text: &str) -> Result<Code, ReportError> {
        let code = QrCode::with_error_correction_level(text, EcLevel::M)
            .map_err(|error| ReportError::Code { reason: error.to_string() })?;
        let dark = code.to_colors().into_iter().map(|colour| colour == Color::Dark).collect();
        Ok(Code { side: code.width(), dark })
    }

    /// Length of a side in points, without the clear space around it.
    pub(crate) fn side(&self) -> f64 {
        self.side as f64 * MODULE
    }

    /// The dark modules with the upper left corner at `at`, those beside each other as one area.
    pub(crate) fn marks(&self, at: Spot) -> Vec<Mark> {
        let mut marks = Vec::new();
        for (row, modules) in self.dark.chunks(self.side.max(1)).enumerate() {
            let y = at.y + row as f64 * MODULE;
            let mut start = 0;
            for run in modules.chunk_by(|one, other| one == other) {
                let end = start + run.len();
                if run.first() == Some(&true) {
                    let (left, right) = (at.x + start as f64 * MODULE, at.x + end as f64 * MODULE);
                    let corners = [(left, y), (right, y), (right, y + MODULE), (left, y + MODULE)];
                    let corners = corners.into_iter().map(|(x, y)| Spot { x, y }).collect();
                    marks.push(Mark::Area { corners, ink: Ink::Black });
                }
                start = end;
            }
        }
        marks
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_three_finders_stand_in_their_corners() {
        // ISO/IEC 18004, 6.3.3.1 (from memory): a finder is 7 dark modules wide, its centre 3 by 3.
        let code = Code::of("standpipe HL-26-0042 9c1e 44b0 7a2d e8f3").unwrap();
        let dark = |x: usize, y: usize| code.dark[y * code.side + x];
        let last = code.side - 7;
        for (left, top) in [(0, 0), (last, 0), (0, last)] {
            for step in 0..7 {
                assert!(dark(left + step, top) && dark(left, top + step) && dark(left + step, top + 6));
            }
            assert!(!dark(left + 1, top + 1) && dark(left + 3, top + 3));
        }
        assert!(!(0..7).all(|step| dark(last + step, last)), "no finder at the lower right");
    }

    #[test]
    fn the_areas_cover_the_dark_modules_and_nothing_else() {
        let code = Code::of("standpipe").unwrap();
        let width = |mark: &Mark| match mark {
            Mark::Area { corners, .. } => corners[1].x - corners[0].x,
            _ => panic!("a code is areas"),
        };
        let covered: f64 = code.marks(Spot { x: 10.0, y: 20.0 }).iter().map(width).sum();
        let dark = code.dark.iter().filter(|dark| **dark).count();
        assert!((covered / MODULE - dark as f64).abs() < 1e-6);
    }
}
