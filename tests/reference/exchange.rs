//! New fluid kept by an exchange, and the share after the pan.

use standpipe_engine::formula::exchange::{OutletPoint, Retained, retained_by_trapezoid};
use standpipe_engine::formula::flow::{Tanks, TwoCompartments};
use standpipe_engine::formula::refill::{Fill, Refill, new_share_after, old_after_pan};
use standpipe_engine::formula::sequence::{exchange_then_pan, pan_then_tanks, pan_then_two_compartments};
use standpipe_engine::quantity::Estimate;

use super::{Table, near, number, numbers, text};

#[test]
fn kept_litres_equal_the_table_and_stay_near_the_closed_form() {
    let table = Table::read("exchange_retained_model_free");
    for row in table.cases() {
        let litres = numbers(row, "v");
        let old = numbers(row, "old_outlet");
        assert_eq!(litres.len(), old.len());
        let points: Vec<OutletPoint> = litres
            .iter()
            .zip(&old)
            .map(|(litres, old_share)| OutletPoint {
                litres: *litres,
                old_share: *old_share,
                standard_uncertainty: number(row, "sigma_reading"),
            })
            .collect();
        let kept = retained_by_trapezoid(&points, 0.0);
        let tolerance = number(row, "tol_trapezoid");
        near(row, "G", kept.value, number(row, "trapezoid"), tolerance);
        near(row, "u(G)", kept.standard_uncertainty, number(row, "u_trapezoid"), tolerance);
        // Steps of one litre leave the trapezoid within 0.01 L of the exact area.
        near(row, "G, exact", kept.value, number(row, "exact"), 0.01);
    }
    assert_eq!(table.cases().len(), 2);
}

#[test]
fn shares_after_the_pan_equal_the_table() {
    let table = Table::read("exchange_then_pan");
    let (mut pan_last, mut mixed, mut pan_first) = (0, 0, 0);
    for row in table.cases() {
        let kind = text(row, "kind");
        if matches!(kind, "pan_then_mixed" | "pan_then_two") {
            let (litres, drained) = (number(row, "v"), number(row, "D"));
            let found = if kind == "pan_then_mixed" {
                pan_then_tanks(&Tanks::new(number(row, "V"), 1.0).expect("a fill"), litres, drained)
            } else {
                let (flowing, slow) = (number(row, "Va"), number(row, "Vd"));
                let flow = TwoCompartments::new(flowing, slow, number(row, "kappa")).expect("compartments");
                pan_then_two_compartments(&flow, litres, drained)
            };
            near(row, "pan first", found, number(row, "old_after"), number(row, "tol"));
            pan_first += 1;
            continue;
        }
        assert!(
            matches!(kind, "mixed_then_pan" | "two_then_pan" | "tanks_then_pan"),
            "{}: '{kind}'",
            row["id"]
        );
        let fill =
            if kind == "two_then_pan" { number(row, "Va") + number(row, "Vd") } else { number(row, "V") };
        let (drained, before) = (number(row, "D"), number(row, "old_before"));
        // The pan feeds the outlet; one mixed volume is everywhere alike.
        let outlet = if kind == "mixed_then_pan" { before } else { number(row, "old_outlet") };
        let expected = number(row, "old_after");
        let tolerance = number(row, "tol");
        near(row, "old share", old_after_pan(before, outlet, drained, fill), expected, tolerance);
        pan_last += 1;
        let litres = number(row, "v");
        let planned = if kind == "two_then_pan" {
            let (flowing, slow) = (number(row, "Va"), number(row, "Vd"));
            let flow = TwoCompartments::new(flowing, slow, number(row, "kappa")).expect("compartments");
            exchange_then_pan(&flow, litres, drained)
        } else {
            let count = if kind == "mixed_then_pan" { 1.0 } else { number(row, "n") };
            exchange_then_pan(&Tanks::new(fill, count).expect("tanks"), litres, drained)
        };
        near(row, "planned", planned, expected, tolerance);
        if kind == "mixed_then_pan" {
            let kept = Retained {
                litres: Estimate::known(fill * (1.0 - before), 0.0),
                last_old: Estimate::known(outlet, 0.0),
                last_weight: 0.0,
            };
            let amount = Estimate::known(drained, 0.0);
            let refill = Refill { drained: amount, refilled: amount, ..Refill::default() };
            let after = new_share_after(&kept, Fill::OnArrival(Estimate::known(fill, 0.0)), &refill);
            near(row, "new share", after.value, 1.0 - expected, tolerance);
            mixed += 1;
        }
    }
    assert_eq!((pan_last, mixed, pan_first), (14, 4, 4));
}
