//! Torque in other units than newton metres.
//!
//! Newton metres are kept, with the digits as they were read; other units are only shown beside them. The readings call
//! it. Never here: how a typed unit is spelled, which is the grammar's of typed quantities.

/// A unit of torque that tools are marked in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TorqueUnit {
    /// Pound-force foot.
    PoundForceFoot,
    /// Pound-force inch.
    PoundForceInch,
    /// Kilogram-force metre.
    KilogramForceMetre,
}

impl TorqueUnit {
    /// How the unit is written.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::PoundForceFoot => "lbf·ft",
            Self::PoundForceInch => "lbf·in",
            Self::KilogramForceMetre => "kgf·m",
        }
    }

    /// Newton metres of one unit.
    ///
    /// `1 lbf·ft = 0.453 592 37 kg · 9.806 65 m/s² · 0.3048 m`; an inch is a twelfth of a foot
    ///
    /// # Source
    /// NIST SP 811, appendix B.8: exact definitions of pound, standard acceleration, foot and inch.
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::formula::torque_units::TorqueUnit;
    /// // NIST SP 811, appendix B.8: 1.355 818 N·m.
    /// assert!((TorqueUnit::PoundForceFoot.newton_metres() - 1.355_818).abs() < 5e-7);
    /// ```
    #[must_use]
    pub fn newton_metres(self) -> f64 {
        match self {
            Self::PoundForceFoot => 1.355_817_948_331_400_4,
            Self::PoundForceInch => 0.112_984_829_027_616_7,
            Self::KilogramForceMetre => 9.806_65,
        }
    }

    /// A torque in this unit.
    ///
    /// * `newton_metres` – the torque in N·m, any number
    #[must_use]
    pub fn of(self, newton_metres: f64) -> f64 {
        newton_metres / self.newton_metres()
    }
}
