//! What was done about a recall: the customer was told, or the work was looked at.

use super::{Use, UseOf};
use crate::job::Folded;
use crate::kind::Fact;
use crate::kind::words::{CustomerSaid, CustomerTopic, InspectedPart, InspectionFound};

/// Every call and look; the purpose is what the customer said or what was found.
pub(super) fn uses(folded: &Folded) -> Vec<Use> {
    let about = folded.facts.iter().filter_map(|stated| match &stated.fact {
        Fact::CustomerAnswer(answer) if answer.topic == Some(CustomerTopic::Recall) => {
            let purpose = answer.said.map_or("", CustomerSaid::word).to_owned();
            Some(Use { purpose, ..Use::stated(stated, UseOf::Told) })
        }
        Fact::Inspection(look) if look.part == Some(InspectedPart::RecalledWork) => {
            let purpose = look.found.map_or("", InspectionFound::word).to_owned();
            Some(Use { purpose, ..Use::stated(stated, UseOf::LookedAt) })
        }
        _ => None,
    });
    about.collect()
}
