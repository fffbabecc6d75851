//! Parts and kits that a job fitted, by code and lot.
//!
//! A kit is for one service and counts once. A filter counts as a piece where no kit holds it; out of a kit its own lot
//! is kept all the same, so that a recall finds it.

use super::{Use, UseOf};
use crate::job::{Folded, Stated};
use crate::kind::part_checked::PartChecked;
use crate::kind::part_fitted::PartFitted;
use crate::kind::words::{Part, ServicePart};

/// Purpose of a whole kit.
pub(crate) const KIT: &str = "kit";

/// Every part and kit of which a code or a lot is known.
pub(crate) fn uses(folded: &Folded) -> Vec<Use> {
    let mut uses: Vec<Use> = Vec::new();
    for (stated, fitted) in folded.each::<PartFitted>() {
        let used = if fitted.kit.is_empty() {
            let purpose = fitted.fitted.first().map_or("", |part| part.word());
            Use { lot: fitted.lot.clone(), ..of(stated, purpose, 0.0) }
        } else {
            Use { code: fitted.kit.clone(), lot: fitted.lot.clone(), ..of(stated, KIT, 1.0) }
        };
        let stands = uses.iter().any(|other| other.code == used.code && other.lot == used.lot);
        let named = !used.code.is_empty() || !used.lot.is_empty();
        if named && !stands {
            uses.push(used);
        }
    }
    uses.extend(filter(folded));
    uses
}

/// The filter whose box was read last, if a new one was fitted.
fn filter(folded: &Folded) -> Option<Use> {
    let mut fitted = folded.each::<PartFitted>().filter(|(_, fitted)| {
        let left_out = fitted.excepted.contains(&ServicePart::Filter);
        !left_out && (fitted.is_new(ServicePart::Filter) || !fitted.kit.is_empty())
    });
    let (stated, fitted) = fitted.next_back()?;
    let mut boxes = folded.each::<PartChecked>().filter(|(_, check)| check.part == Some(Part::Filter));
    let (_, check) = boxes.next_back()?;
    let amount = if fitted.kit.is_empty() { 1.0 } else { 0.0 };
    let (code, lot) = (check.code.clone(), check.lot.clone());
    Some(Use { code, lot, ..of(stated, ServicePart::Filter.word(), amount) })
}

fn of(stated: &Stated, purpose: &str, amount: f64) -> Use {
    let (unit, purpose) = ("pieces".to_owned(), purpose.to_owned());
    Use { amount, unit, purpose, ..Use::stated(stated, UseOf::Part) }
}
