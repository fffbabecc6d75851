//! Walks every field of a message with its path. The walk itself is generated from the messages;
//! what is done at each field is up to the visitor.
//! Never here: a bound. Called by [`crate::check`] and by tests that look for forgotten fields.

/// Where in a message a walk stands, for example `fact.drain.volume_litres`.
#[derive(Debug, Default, Clone)]
pub struct Path {
    steps: Vec<Step>,
}

#[derive(Debug, Clone, Copy)]
struct Step {
    field: &'static str,
    item: Option<usize>,
}

impl Path {
    /// Goes into a field.
    pub fn push(&mut self, field: &'static str) {
        self.steps.push(Step { field, item: None });
    }

    /// Goes into one item of a repeated field.
    pub fn push_item(&mut self, field: &'static str, index: usize) {
        self.steps.push(Step { field, item: Some(index) });
    }

    /// Goes back out.
    pub fn pop(&mut self) {
        self.steps.pop();
    }
}

impl std::fmt::Display for Path {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (index, step) in self.steps.iter().enumerate() {
            if index > 0 {
                f.write_str(".")?;
            }
            f.write_str(step.field)?;
            if let Some(item) = step.item {
                write!(f, "[{item}]")?;
            }
        }
        Ok(())
    }
}

/// What is done at each field. `message` and `field` are the names in the proto files; the path
/// of a value ends with the field, the path of something absent with the message that lacks it.
pub trait Visitor {
    /// A floating-point number, not a number and infinities included.
    fn number(&mut self, at: &Path, message: &'static str, field: &'static str, value: f64);
    /// A whole number.
    fn whole(&mut self, at: &Path, message: &'static str, field: &'static str, value: i64);
    /// Yes or no.
    fn flag(&mut self, at: &Path, message: &'static str, field: &'static str, value: bool);
    /// A text; empty when it was not set.
    fn text(&mut self, at: &Path, message: &'static str, field: &'static str, value: &str);
    /// Bytes, of which only the length is looked at.
    fn bytes(&mut self, at: &Path, message: &'static str, field: &'static str, length: usize);
    /// A choice by its number, and whether this version knows it.
    fn choice(&mut self, at: &Path, message: &'static str, field: &'static str, value: i32, known: bool);
    /// A point in time.
    fn time(&mut self, at: &Path, message: &'static str, field: &'static str, seconds: i64, nanos: i32);
    /// A message of ours stands in the field; its own fields follow.
    fn part(&mut self, at: &Path, message: &'static str, field: &'static str);
    /// The number of items of a repeated field; the items follow.
    fn count(&mut self, at: &Path, message: &'static str, field: &'static str, items: usize);
    /// An optional field, a message or a whole `oneof` that is not there.
    fn absent(&mut self, at: &Path, message: &'static str, field: &'static str);
}

/// A message that can be walked.
pub trait Visit {
    /// Walks all fields in the order of the proto file, the `oneof`s last.
    fn visit(&self, at: &mut Path, visitor: &mut dyn Visitor);
}

#[allow(clippy::all, clippy::pedantic, unused_parens)]
mod generated {
    use super::{Path, Visit, Visitor};
    use crate::v1::*;
    include!(concat!(env!("OUT_DIR"), "/visit.rs"));
}
