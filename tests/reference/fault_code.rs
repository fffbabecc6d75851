//! Fault codes: what each means for a fluid service.

use standpipe_engine::formula::fault_code::{FaultClass, classify};

use super::{Table, text};

#[test]
fn every_fault_code_of_the_table_gets_the_table_s_class() {
    let table = Table::read("shop_fault_code_gate");
    for row in table.cases() {
        let result = text(row, "result");
        let class = match result.split(':').next() {
            Some("repair first") => FaultClass::RepairFirst,
            Some("signed decision") => FaultClass::SignedDecision,
            Some("look up") => FaultClass::LookFurther,
            Some("note only") => FaultClass::NoteOnly,
            other => panic!("{}: the table's class {other:?} is not known", row["id"]),
        };
        assert_eq!(classify(text(row, "code")), class, "{}", row["id"]);
    }
    assert_eq!(table.cases().len(), 18);
}

#[test]
fn the_table_s_rule_for_the_maker_s_own_codes_is_kept() {
    // Stated in the table's 'how', which has no row for it: second character 1, and P30xx to P33xx.
    for code in ["P1234", "P3000", "P33FF"] {
        assert_eq!(classify(code), FaultClass::MakerSpecific, "{code}");
    }
}
