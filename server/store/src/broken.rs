//! Faults put in on purpose, so that a test harness can show that it turns red. Only in builds with the feature
//! `broken`; every other build answers "no" at compile time. A store is opened with at most one fault.

/// A fault by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// Entries are answered before their commit.
    AckBeforeCommit,
    /// The journal's connection does not sync its commits.
    SynchronousNormal,
    /// Entry ids are not remembered.
    DuplicateCheckDropped,
    /// Every seventh leaf is left out of the tree.
    LeafSkipped,
}

/// The fault a store was opened with, if any.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Faults {
    #[cfg(feature = "broken")]
    chosen: Option<Fault>,
}

impl Faults {
    /// One fault on purpose.
    #[cfg(feature = "broken")]
    pub(crate) fn only(fault: Fault) -> Self {
        Self { chosen: Some(fault) }
    }

    /// Whether this fault is on.
    #[cfg(feature = "broken")]
    pub(crate) fn has(self, fault: Fault) -> bool {
        self.chosen == Some(fault)
    }

    /// No fault is ever on in this build.
    #[cfg(not(feature = "broken"))]
    pub(crate) fn has(self, _fault: Fault) -> bool {
        false
    }
}

#[cfg(feature = "broken")]
impl std::str::FromStr for Fault {
    type Err = String;

    fn from_str(name: &str) -> Result<Self, Self::Err> {
        match name {
            "ack-before-commit" => Ok(Self::AckBeforeCommit),
            "synchronous-normal" => Ok(Self::SynchronousNormal),
            "duplicate-check-dropped" => Ok(Self::DuplicateCheckDropped),
            "leaf-skipped" => Ok(Self::LeafSkipped),
            other => Err(format!(
                "fault is {other}, but must be ack-before-commit, synchronous-normal, duplicate-check-dropped or \
                 leaf-skipped"
            )),
        }
    }
}
