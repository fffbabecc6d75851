//! What is in the store: received less drawn, put right by every count.
//!
//! In the order of the journal, which is the order in which the shop server heard of it. A count is the basis for what
//! follows; what it differs by from what was computed is kept beside it, so that what came in, with all differences, is
//! always what went out and what is there. A count of all lots together leaves each lot as computed. Nothing below zero
//! is hidden. Litres are litres as poured at the temperature of the bay.

use super::SiteFacts;
use super::account::UseOf;
use super::density::weighed_litres;
use super::exact::{Exact, Unit};
use crate::amount::Read;
use crate::catalogue::Revision;
use crate::kind::equipment_contents::EquipmentContents;
use crate::kind::lot_received::{LotReceived, StoreAmount};
use crate::kind::stock_counted::StockCounted;
use crate::kind::words::{Container, Supply};

/// All shelves, in the order of their codes.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Store {
    pub shelves: Vec<Shelf>,
}

/// Everything of one code.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Shelf {
    /// Code in the catalogue, else as first written; empty for fluid that nobody named.
    pub code: String,
    /// Name in the catalogue; empty if it has none.
    pub name: String,
    /// What it is, as far as the register says it.
    pub what: Option<Supply>,
    pub unit: Unit,
    /// Its lots in the order in which they came up; what has no lot is one with an empty number.
    pub lots: Vec<Balance>,
    /// Counts of all lots together.
    pub counts: Vec<Count>,
    first_us: Option<i64>,
}

/// One lot on its shelf.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Balance {
    pub lot: String,
    pub received: Exact,
    pub drawn: Exact,
    /// What all counts found more, or less if negative; counts of all lots together stand where no lot is known.
    pub difference: Exact,
    pub counts: Vec<Count>,
    pub container: Option<Container>,
    /// Earliest last day of its containers; empty if they have none.
    pub last_day: String,
    first_us: Option<i64>,
}

/// One count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Count {
    pub counted: Exact,
    /// What should have been there.
    pub computed: Exact,
    pub time_us: i64,
    /// Since when the difference arose: the count before, else the first delivery; absent without either.
    pub since_us: Option<i64>,
}

impl Count {
    pub fn difference(&self) -> Exact {
        self.counted - self.computed
    }
}

impl Balance {
    /// What is there; below zero when more was drawn than came in.
    pub fn there(&self) -> Exact {
        self.received + self.difference - self.drawn
    }

    /// Whether a delivery of it was written down.
    pub fn is_received(&self) -> bool {
        self.first_us.is_some()
    }
}

impl Shelf {
    /// Sum over its lots.
    pub fn sum(&self, of: fn(&Balance) -> Exact) -> Exact {
        self.lots.iter().map(of).sum()
    }

    /// Whether it was ever received or counted; otherwise the register says nothing of it.
    pub fn is_kept(&self) -> bool {
        self.first_us.is_some()
            || !self.counts.is_empty()
            || self.lots.iter().any(|lot| !lot.counts.is_empty())
    }

    fn lot(&mut self, lot: &str) -> &mut Balance {
        let known = self.lots.iter().position(|known| same_lot(&known.lot, lot));
        let place = known.unwrap_or_else(|| {
            self.lots.push(Balance { lot: lot.to_owned(), ..Balance::default() });
            self.lots.len() - 1
        });
        #[allow(clippy::indexing_slicing, reason = "the place was found or made just now")]
        &mut self.lots[place]
    }
}

fn same_lot(one: &str, other: &str) -> bool {
    (one.is_empty() && other.is_empty()) || crate::catalogue::same_code(one, other)
}

/// One thing that changes the store.
enum Event<'a> {
    Received(&'a LotReceived, Exact),
    Drawn(Exact),
    Counted(Exact),
}

struct Step<'a> {
    seq: u64,
    time_us: i64,
    unit: Unit,
    code: &'a str,
    lot: &'a str,
    what: Option<Supply>,
    event: Event<'a>,
}

impl Store {
    /// The store by everything that is known of the site.
    pub fn of(revision: &Revision, facts: &SiteFacts) -> Self {
        let mut steps = received(revision, facts);
        steps.extend(counted(revision, facts));
        steps.extend(drawn(facts));
        steps.sort_by_key(|step| step.seq);
        let mut store = Self::default();
        for step in steps {
            store.take(revision, step);
        }
        store.shelves.sort_by(|one, other| (&one.code, one.unit).cmp(&(&other.code, other.unit)));
        store
    }

    /// The shelf of a code or name.
    pub fn shelf(&self, code: &str) -> Option<&Shelf> {
        self.shelves.iter().find(|shelf| shelf.is(code))
    }

    fn take(&mut self, revision: &Revision, step: Step<'_>) {
        let Step { time_us, unit, code, lot, what, event, .. } = step;
        let known = self.shelves.iter().position(|shelf| shelf.unit == unit && shelf.is(code));
        let place = known.unwrap_or_else(|| {
            self.shelves.push(Shelf::new(revision, code, unit));
            self.shelves.len() - 1
        });
        let Some(shelf) = self.shelves.get_mut(place) else { return };
        shelf.what = shelf.what.or(what);
        match event {
            Event::Received(delivery, amount) => {
                shelf.first_us.get_or_insert(time_us);
                let balance = shelf.lot(lot);
                balance.first_us.get_or_insert(time_us);
                balance.received += amount;
                balance.container = delivery.container.or(balance.container);
                let day = &delivery.expires_on;
                if !day.is_empty() && (balance.last_day.is_empty() || *day < balance.last_day) {
                    balance.last_day.clone_from(day);
                }
            }
            Event::Drawn(amount) => shelf.lot(lot).drawn += amount,
            Event::Counted(counted) if lot.is_empty() => {
                let computed = shelf.sum(Balance::there);
                let since_us = shelf.counts.last().map(|count| count.time_us).or(shelf.first_us);
                shelf.counts.push(Count { counted, computed, time_us, since_us });
                if counted != computed {
                    shelf.lot("").difference += counted - computed;
                }
            }
            Event::Counted(counted) => {
                let balance = shelf.lot(lot);
                let computed = balance.there();
                let since_us = balance.counts.last().map(|count| count.time_us).or(balance.first_us);
                balance.counts.push(Count { counted, computed, time_us, since_us });
                balance.difference += counted - computed;
            }
        }
    }
}

impl Shelf {
    fn new(revision: &Revision, code: &str, unit: Unit) -> Self {
        let fluid = if unit == Unit::Litres { revision.fluid(code) } else { None };
        Self {
            code: fluid.map_or_else(|| code.to_owned(), |fluid| fluid.code.clone()),
            name: fluid.map(|fluid| fluid.name.clone()).unwrap_or_default(),
            what: None,
            unit,
            lots: Vec::new(),
            counts: Vec::new(),
            first_us: None,
        }
    }

    /// Whether a code or name is that of the shelf.
    fn is(&self, code: &str) -> bool {
        same_lot(&self.code, code) || (!self.name.is_empty() && same_lot(&self.name, code))
    }
}

fn received<'a>(revision: &Revision, facts: &'a SiteFacts) -> Vec<Step<'a>> {
    let steps = facts.each::<LotReceived>(u64::MAX).filter_map(|(stated, lot)| {
        let (amount, unit) = exact(revision, &lot.code, lot.amount.as_ref()?);
        let event = Event::Received(lot, amount);
        let (seq, time_us) = (stated.seq, stated.time_us);
        Some(Step { seq, time_us, unit, code: &lot.code, lot: &lot.lot, what: lot.what, event })
    });
    steps.collect()
}

fn counted<'a>(revision: &Revision, facts: &'a SiteFacts) -> Vec<Step<'a>> {
    let steps = facts.each::<StockCounted>(u64::MAX).filter_map(|(stated, count)| {
        let (amount, unit) = exact(revision, &count.code, count.amount.as_ref()?);
        let (seq, time_us, event) = (stated.seq, stated.time_us, Event::Counted(amount));
        Some(Step { seq, time_us, unit, code: &count.code, lot: &count.lot, what: count.what, event })
    });
    steps.collect()
}

/// What jobs drew, and what equipment was rinsed with.
fn drawn(facts: &SiteFacts) -> Vec<Step<'_>> {
    let fluid = facts.uses(UseOf::Fluid, u64::MAX).map(|(_, used)| (used, Unit::Litres, Some(Supply::Fluid)));
    let parts = facts.uses(UseOf::Part, u64::MAX).map(|(_, used)| (used, Unit::Pieces, None));
    let used = fluid
        .chain(parts)
        .filter(|(used, unit, _)| used.amount > 0.0 && (*unit == Unit::Litres || !used.code.is_empty()));
    let jobs = used.map(|(used, unit, what)| Step {
        seq: used.seq,
        time_us: used.done_us,
        unit,
        code: &used.code,
        lot: &used.lot,
        what,
        event: Event::Drawn(Exact::new(used.amount)),
    });
    let rinses = facts.each::<EquipmentContents>(u64::MAX).filter_map(|(stated, contents)| {
        let litres = rinsed_litres(contents)?;
        Some(Step {
            seq: stated.seq,
            time_us: stated.time_us,
            unit: Unit::Litres,
            code: &contents.fluid_code,
            lot: &contents.lot,
            what: Some(Supply::Fluid),
            event: Event::Drawn(litres),
        })
    });
    jobs.chain(rinses).collect()
}

/// Litres that equipment was rinsed with; absent for none.
pub(super) fn rinsed_litres(contents: &EquipmentContents) -> Option<Exact> {
    let litres = contents.rinsed.as_ref().map(super::litres_of)?;
    (litres > 0.0).then(|| Exact::new(litres))
}

fn exact(revision: &Revision, code: &str, amount: &StoreAmount) -> (Exact, Unit) {
    match amount {
        StoreAmount::Pieces(count) => (Exact::new(f64::from(*count)), Unit::Pieces),
        StoreAmount::Fluid(amount) => {
            let litres = match amount.read() {
                Read::Litres(litres) => litres,
                Read::Kilograms(kilograms) => weighed_litres(revision, code, None, kilograms),
            };
            (Exact::new(litres), Unit::Litres)
        }
    }
}
