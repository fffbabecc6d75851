//! Makes one typed function for every sentence of `text/en.ftl`.
//!
//! A sentence can then only be made with a key that exists and with exactly the variables it names: a
//! missing key or argument does not compile. The script never looks at another language; a test
//! compares those with the English keys. Cargo calls it before it compiles the engine.

use std::collections::{BTreeMap, BTreeSet};
use std::error::Error;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::{env, fs};

use fluent_syntax::ast::{
    Entry, Expression, InlineExpression, Message, Pattern, PatternElement, Variant, VariantKey,
};

type Failure = Box<dyn Error>;

/// What a variable of a sentence is used for.
#[derive(Clone, PartialEq)]
enum Variable {
    /// Printed as it comes.
    Text,
    /// A number that chooses the plural form (and may be printed).
    Count,
    /// A word that chooses one of these forms.
    Choice(BTreeSet<String>),
}

type Variables = BTreeMap<String, Variable>;

/// Words that CLDR uses for plural forms.
const PLURAL_FORMS: [&str; 6] = ["zero", "one", "two", "few", "many", "other"];

fn main() -> Result<(), Failure> {
    let source_path = PathBuf::from(env::var("CARGO_MANIFEST_DIR")?).join("text/en.ftl");
    println!("cargo:rerun-if-changed=text/en.ftl");
    println!("cargo:rerun-if-changed=build.rs");
    let source = fs::read_to_string(&source_path)?;
    let resource = fluent_syntax::parser::parse(source.as_str())
        .map_err(|(_, errors)| format!("text/en.ftl cannot be read: {errors:?}"))?;

    let mut messages = BTreeMap::new();
    let mut terms = BTreeSet::new();
    let mut count = 0;
    for entry in &resource.body {
        match entry {
            // A key that comes twice loses its first text here; the count below notices it.
            Entry::Message(message) => {
                count += 1;
                messages.insert(message.id.name, message);
            }
            Entry::Term(term) => {
                terms.insert(term.id.name);
            }
            _ => {}
        }
    }
    if messages.len() != count {
        return Err("text/en.ftl has a key twice; give each sentence its own".into());
    }
    let mut generated = String::new();
    let mut table = String::new();
    for message in messages.values() {
        let mut variables = Variables::new();
        collect_message(message, &messages, &terms, &mut variables, 0)?;
        write_function(&mut generated, message.id.name, &variables)?;
        write_row(&mut table, message.id.name, &variables)?;
    }
    writeln!(generated, "/// Every sentence with its variables, sorted by key.")?;
    writeln!(generated, "pub static MESSAGES: &[Message] = &[\n{table}];")?;
    fs::write(PathBuf::from(env::var("OUT_DIR")?).join("sentences.rs"), generated)?;
    Ok(())
}

fn write_function(out: &mut String, key: &str, variables: &Variables) -> Result<(), Failure> {
    let parameters: Vec<String> = variables
        .iter()
        .map(|(name, variable)| match variable {
            Variable::Count => format!("{}: u64", identifier(name)),
            Variable::Text | Variable::Choice(_) => format!("{}: impl Into<Arg>", identifier(name)),
        })
        .collect();
    let arguments: Vec<String> =
        variables.keys().map(|name| format!("({name:?}, {}.into())", identifier(name))).collect();
    writeln!(out, "/// The sentence `{key}`.")?;
    for (name, variable) in variables {
        match variable {
            Variable::Text => {}
            Variable::Count => writeln!(out, "///\n/// `{name}` chooses the plural form.")?,
            Variable::Choice(forms) => {
                let forms = forms.iter().map(|form| format!("`{form}`")).collect::<Vec<_>>().join(", ");
                writeln!(out, "///\n/// `{name}` is one of {forms}.")?;
            }
        }
    }
    writeln!(
        out,
        "#[must_use]\npub fn {}({}) -> Sentence {{\n    Sentence::new({key:?}, vec![{}])\n}}\n",
        identifier(key),
        parameters.join(", "),
        arguments.join(", ")
    )?;
    Ok(())
}

fn write_row(out: &mut String, key: &str, variables: &Variables) -> Result<(), Failure> {
    write!(out, "    Message {{ key: {key:?}, variables: &[")?;
    for (name, variable) in variables {
        match variable {
            Variable::Text => write!(out, "({name:?}, Variable::Text), ")?,
            Variable::Count => write!(out, "({name:?}, Variable::Count), ")?,
            Variable::Choice(forms) => {
                let forms: Vec<&String> = forms.iter().collect();
                write!(out, "({name:?}, Variable::Choice(&{forms:?})), ")?;
            }
        }
    }
    writeln!(out, "] }},")?;
    Ok(())
}

fn identifier(name: &str) -> String {
    name.replace('-', "_").to_lowercase()
}

fn collect_message(
    message: &Message<&str>,
    messages: &BTreeMap<&str, &Message<&str>>,
    terms: &BTreeSet<&str>,
    variables: &mut Variables,
    depth: usize,
) -> Result<(), Failure> {
    let key = message.id.name;
    if depth > 4 {
        return Err(format!("text/en.ftl: '{key}' refers to other sentences more than four deep").into());
    }
    if !message.attributes.is_empty() {
        return Err(format!("text/en.ftl: '{key}' has attributes; give each text its own key").into());
    }
    let Some(pattern) = &message.value else {
        return Err(format!("text/en.ftl: '{key}' has no text").into());
    };
    let mut walk = Walk { key, messages, terms, variables, depth };
    walk.pattern(pattern)
}

/// Collects the variables of one sentence, and of those it refers to.
struct Walk<'a, 'b> {
    key: &'a str,
    messages: &'a BTreeMap<&'b str, &'b Message<&'b str>>,
    terms: &'a BTreeSet<&'b str>,
    variables: &'a mut Variables,
    depth: usize,
}

impl Walk<'_, '_> {
    fn pattern(&mut self, pattern: &Pattern<&str>) -> Result<(), Failure> {
        for element in &pattern.elements {
            if let PatternElement::Placeable { expression } = element {
                self.expression(expression)?;
            }
        }
        Ok(())
    }

    fn expression(&mut self, expression: &Expression<&str>) -> Result<(), Failure> {
        match expression {
            Expression::Inline(inline) => self.inline(inline),
            Expression::Select { selector, variants } => {
                let InlineExpression::VariableReference { id } = selector else {
                    return Err(format!(
                        "text/en.ftl: '{}' chooses by something else than a variable",
                        self.key
                    )
                    .into());
                };
                self.note(id.name, chosen_by(variants))?;
                variants.iter().try_for_each(|variant| self.pattern(&variant.value))
            }
        }
    }

    fn inline(&mut self, inline: &InlineExpression<&str>) -> Result<(), Failure> {
        match inline {
            InlineExpression::StringLiteral { .. } | InlineExpression::NumberLiteral { .. } => Ok(()),
            InlineExpression::VariableReference { id } => self.note(id.name, Variable::Text),
            InlineExpression::Placeable { expression } => self.expression(expression),
            InlineExpression::MessageReference { id, attribute: None } => match self.messages.get(id.name) {
                Some(message) => {
                    collect_message(message, self.messages, self.terms, self.variables, self.depth + 1)
                }
                None => {
                    Err(format!("text/en.ftl: '{}' refers to '{}', which is missing", self.key, id.name)
                        .into())
                }
            },
            InlineExpression::TermReference { id, attribute: None, arguments: None } => {
                if self.terms.contains(id.name) {
                    return Ok(());
                }
                Err(format!("text/en.ftl: '{}' refers to '-{}', which is missing", self.key, id.name).into())
            }
            _ => Err(format!(
                "text/en.ftl: '{}' uses a function or an attribute; we format ourselves",
                self.key
            )
            .into()),
        }
    }

    fn note(&mut self, name: &str, variable: Variable) -> Result<(), Failure> {
        let known = self.variables.entry(name.to_owned()).or_insert_with(|| variable.clone());
        if *known == Variable::Text {
            *known = variable;
        } else if variable != Variable::Text && *known != variable {
            return Err(format!("text/en.ftl: '{}' uses ${name} for two kinds of choice", self.key).into());
        }
        Ok(())
    }
}

fn chosen_by(variants: &[Variant<&str>]) -> Variable {
    let mut forms = BTreeSet::new();
    for variant in variants {
        match variant.key {
            VariantKey::NumberLiteral { .. } => return Variable::Count,
            VariantKey::Identifier { name } => forms.insert(name.to_owned()),
        };
    }
    if forms.iter().all(|form| PLURAL_FORMS.contains(&form.as_str())) {
        Variable::Count
    } else {
        Variable::Choice(forms)
    }
}
