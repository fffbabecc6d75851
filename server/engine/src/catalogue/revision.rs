//! One revision of the catalogue: its files, its id, and the answers it gives.
//!
//! See the module head of the catalogue for the framing of the id.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use sha2::{Digest, Sha256};

use super::reader::Document;
use super::rule_index::RuleIndex;
use super::transmission::{self, Fluid, Placed, Variant};
use super::vin_rule::{Fitting, VinRule};
use super::workshop::{self, Workshop};
use super::{CatalogueError, CatalogueProblem, FILE_BYTES_MAX, FILES_MAX, RULES_MAX, WORKSHOP_FILE};
use crate::formula::vin::Vin;

/// The digest that names a revision.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct RevisionId([u8; 32]);

impl RevisionId {
    /// The 32 bytes.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// The first 8 hexadecimal digits, as they stand in the foot of a record.
    #[must_use]
    pub fn short(&self) -> String {
        self.to_string().get(..8).unwrap_or_default().to_owned()
    }

    /// The id of a set of files; their order does not matter.
    #[must_use]
    pub fn of(files: &[(String, Vec<u8>)]) -> Self {
        let mut sorted: Vec<_> = files.iter().collect();
        sorted.sort();
        let mut hash = Sha256::new();
        let mut add = |bytes: &[u8]| {
            hash.update((bytes.len() as u64).to_be_bytes());
            hash.update(bytes);
        };
        for (name, content) in sorted {
            add(name.as_bytes());
            add(content);
        }
        Self(hash.finalize().into())
    }
}

impl From<[u8; 32]> for RevisionId {
    fn from(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }
}

impl fmt::Display for RevisionId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl FromStr for RevisionId {
    type Err = String;

    /// Reads 64 hexadecimal digits.
    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || format!("'{text}' is no catalogue revision; write its 64 hexadecimal digits");
        if text.len() != 64 || !text.bytes().all(|digit| digit.is_ascii_hexdigit()) {
            return Err(wrong());
        }
        let mut bytes = [0; 32];
        for (at, byte) in bytes.iter_mut().enumerate() {
            let pair = text.get(2 * at..2 * at + 2).ok_or_else(wrong)?;
            *byte = u8::from_str_radix(pair, 16).map_err(|_| wrong())?;
        }
        Ok(Self(bytes))
    }
}

/// A catalogue that was read completely.
#[derive(Clone, Debug, PartialEq)]
pub struct Revision {
    id: RevisionId,
    workshop: Workshop,
    variants: Vec<Variant>,
    lookup: Lookup,
}

/// Where things stand among the variants, by their plain codes, and which rules a VIN may fit.
#[derive(Clone, Debug, PartialEq, Default)]
struct Lookup {
    variants: BTreeMap<String, usize>,
    /// Variants by the code of their fluid; the first that has it.
    fluids: BTreeMap<String, usize>,
    /// The same by its name.
    fluid_names: BTreeMap<String, usize>,
    /// Each rule by its number: its variant, and its place there.
    rules: Vec<(usize, usize)>,
    index: RuleIndex,
}

impl Lookup {
    fn of(variants: &[Variant]) -> Self {
        let mut lookup = Self::default();
        for (at, variant) in variants.iter().enumerate() {
            lookup.variants.entry(plain_code(&variant.code)).or_insert(at);
            lookup.fluids.entry(plain_code(&variant.fluid.code)).or_insert(at);
            lookup.fluid_names.entry(plain_code(&variant.fluid.name)).or_insert(at);
            lookup.rules.extend((0..variant.vin_rules.len()).map(|rule| (at, rule)));
        }
        let rules: Vec<&VinRule> = variants.iter().flat_map(|variant| &variant.vin_rules).collect();
        lookup.index = RuleIndex::of(rules.into_iter());
        lookup
    }
}

/// The variants and rules that a VIN fits.
#[derive(Clone, Debug, PartialEq)]
pub struct VinMatch<'a> {
    /// All variants that fit, sorted by code: one settles the matter, none or several do not.
    pub variants: Vec<&'a Variant>,
    /// The rules that were hit, in the order of files and lines.
    pub rules: Vec<&'a VinRule>,
}

impl Revision {
    /// Reads the files of a catalogue folder, given as names and contents in any order.
    ///
    /// A catalogue with `workshop.toml` alone is valid, and so is one whose `workshop.toml` holds only a name.
    ///
    /// # Errors
    /// [`CatalogueError`] with every mistake of every file; nothing is kept then.
    pub fn parse(mut files: Vec<(String, Vec<u8>)>) -> Result<Self, CatalogueError> {
        files.sort();
        let problems = RefCell::new(file_problems(&files));
        let mut workshop = None;
        let mut variants: Vec<(String, Placed)> = Vec::new();
        for (name, content) in files.iter().take(FILES_MAX) {
            let Some(text) = readable(name, content, &problems) else {
                continue;
            };
            let document = Document::new(name, text, &problems);
            let Some(fields) = document.fields() else {
                continue;
            };
            if name == WORKSHOP_FILE {
                workshop = workshop::read(fields);
            } else {
                variants.extend(transmission::read(fields).into_iter().map(|placed| (name.clone(), placed)));
            }
        }
        let mut problems = problems.into_inner();
        problems.extend(contradictions(&variants));
        problems.sort_by(|one, other| (&one.file, one.line).cmp(&(&other.file, other.line)));
        match workshop {
            Some(workshop) if problems.is_empty() => {
                let variants: Vec<Variant> = variants.into_iter().map(|(_, placed)| placed.variant).collect();
                let lookup = Lookup::of(&variants);
                Ok(Self { id: RevisionId::of(&files), workshop, variants, lookup })
            }
            _ => Err(CatalogueError { problems }),
        }
    }

    /// The id: a digest of the files.
    #[must_use]
    pub fn id(&self) -> RevisionId {
        self.id
    }

    /// The workshop's settings.
    #[must_use]
    pub fn workshop(&self) -> &Workshop {
        &self.workshop
    }

    /// All variants, in the order of files and lines.
    #[must_use]
    pub fn variants(&self) -> &[Variant] {
        &self.variants
    }

    /// The variant with this code; see [`same_code`].
    #[must_use]
    pub fn variant(&self, code: &str) -> Option<&Variant> {
        let code = Some(plain_code(code)).filter(|code| !code.is_empty())?;
        self.variants.get(*self.lookup.variants.get(&code)?)
    }

    /// The fluid with this code or name; see [`same_code`].
    #[must_use]
    pub fn fluid(&self, code: &str) -> Option<&Fluid> {
        let code = Some(plain_code(code)).filter(|code| !code.is_empty())?;
        let at = self.lookup.fluids.get(&code).or_else(|| self.lookup.fluid_names.get(&code))?;
        self.variants.get(*at).map(|variant| &variant.fluid)
    }

    /// All variants whose rules the VIN fits, never only the first.
    #[must_use]
    pub fn match_vin(&self, vin: &Vin) -> VinMatch<'_> {
        let rule = |number: usize| {
            let (variant, rule) = self.lookup.rules.get(number)?;
            self.variants.get(*variant)?.vin_rules.get(*rule)
        };
        let candidates = self.lookup.index.may_fit(vin).into_iter().filter_map(rule);
        let found = Fitting::of(candidates.filter(|rule| rule.fits(vin)).collect());
        let variants = found.variants.iter().filter_map(|code| self.variant(code)).collect();
        VinMatch { variants, rules: found.rules }
    }

    /// All rules, by their number in the index.
    pub(super) fn rules(&self) -> Vec<&VinRule> {
        self.variants.iter().flat_map(|variant| &variant.vin_rules).collect()
    }

    pub(super) fn rule_index(&self) -> &RuleIndex {
        &self.lookup.index
    }
}

/// Whether two codes are the same to a reader: capitals, spaces and hyphens do not count.
#[must_use]
pub fn same_code(one: &str, other: &str) -> bool {
    let key = |text: &str| plain_code(text);
    let one = key(one);
    !one.is_empty() && one == key(other)
}

/// A code without what [`same_code`] does not count.
pub(crate) fn plain_code(code: &str) -> String {
    let kept = code
        .chars()
        .filter(|letter| !letter.is_whitespace() && !matches!(letter, '-' | '\u{2010}'..='\u{2015}'));
    kept.flat_map(char::to_uppercase).collect()
}

fn of_file(file: &str, what: impl Into<String>) -> CatalogueProblem {
    CatalogueProblem { file: file.to_owned(), line: None, key: String::new(), what: what.into() }
}

fn file_problems(files: &[(String, Vec<u8>)]) -> Vec<CatalogueProblem> {
    let mut problems = Vec::new();
    if files.len() > FILES_MAX {
        let what = format!("holds {} files, at most {FILES_MAX} are read", files.len());
        problems.push(of_file("the folder", what));
    }
    if !files.iter().any(|(name, _)| name == WORKSHOP_FILE) {
        problems.push(of_file(WORKSHOP_FILE, "is missing; add it with at least: name = \"…\""));
    }
    for pair in files.windows(2) {
        if let [(one, _), (other, _)] = pair
            && one == other
        {
            problems.push(of_file(one, "comes twice; give each file its own name"));
        }
    }
    problems
}

fn readable<'a>(name: &str, content: &'a [u8], problems: &RefCell<Vec<CatalogueProblem>>) -> Option<&'a str> {
    let note = |what: String| problems.borrow_mut().push(of_file(name, what));
    let stem = name.strip_suffix(".toml").unwrap_or_default();
    let plain =
        stem.bytes().all(|letter| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == b'-');
    if stem.is_empty() || stem.len() > 80 || !plain {
        note("must be named with small letters, digits and hyphens and end in .toml".to_owned());
        return None;
    }
    if content.len() > FILE_BYTES_MAX {
        note(format!("has {} bytes, at most {FILE_BYTES_MAX} are read; split it", content.len()));
        return None;
    }
    let text = std::str::from_utf8(content);
    if text.is_err() {
        note("is not UTF-8 text; save it as UTF-8".to_owned());
    }
    text.ok()
}

/// What only shows when all files lie side by side: codes used twice, one fluid with two descriptions.
fn contradictions(variants: &[(String, Placed)]) -> Vec<CatalogueProblem> {
    let mut problems = Vec::new();
    let mut codes = BTreeMap::new();
    let mut fluids: BTreeMap<String, &Fluid> = BTreeMap::new();
    let mut called: BTreeMap<String, &str> = BTreeMap::new();
    let mut rules = BTreeMap::new();
    let mut rule_count = 0;
    for (file, Placed { variant, line }) in variants {
        let mut note = |key: &str, what: String| {
            problems.push(CatalogueProblem {
                file: file.clone(),
                line: Some(*line),
                key: key.to_owned(),
                what,
            });
        };
        if codes.insert(plain_code(&variant.code), ()).is_some() {
            note("variant.code", format!("'{}' is used by another variant; give each its own", variant.code));
        }
        let known = fluids.entry(plain_code(&variant.fluid.code)).or_insert(&variant.fluid);
        if known.name != variant.fluid.name
            || known.density_at_15_celsius != variant.fluid.density_at_15_celsius
        {
            let what =
                format!("'{}' has another name or density elsewhere; state the same", variant.fluid.code);
            note("variant.fluid_code", what);
        }
        // Who reads it on a container must not be told yes by two fluids.
        for (key, name) in [("fluid_code", &variant.fluid.code), ("fluid_name", &variant.fluid.name)] {
            let other = called.entry(plain_code(name)).or_insert(&variant.fluid.code);
            if !same_code(other, &variant.fluid.code) {
                let what = format!(
                    "'{name}' is the code or name of fluid '{other}' elsewhere and of '{}' here; give each fluid its own",
                    variant.fluid.code
                );
                note(&format!("variant.{key}"), what);
            }
        }
        // A colour that was left out once says nothing against one that was stated.
        if let (Some(one), Some(other)) = (known.colour, variant.fluid.colour)
            && one != other
        {
            let what = format!("of '{}' is {} elsewhere; state the same", variant.fluid.code, one.word());
            note("variant.fluid_colour", what);
        } else if known.colour.is_none() {
            *known = &variant.fluid;
        }
        for rule in &variant.vin_rules {
            rule_count += 1;
            if rules.insert(plain_code(&rule.code), ()).is_some() {
                note(
                    "variant.vin_rule.code",
                    format!("'{}' is used by another rule; give each its own", rule.code),
                );
            }
        }
        if rule_count > RULES_MAX {
            note(
                "variant.vin_rule",
                format!("brings the rules above {RULES_MAX}; join rules by sets and ranges"),
            );
            break;
        }
    }
    problems
}
